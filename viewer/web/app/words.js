// The words of the crew's tab in the language asked for. English is the key; a language is a catalog
// of the same sentences, with the same {places} for figures.

let catalog = {};

export const setWords = (words) => {
  catalog = words || {};
};

// A sentence with its figures, given by the name of their place.
export const t = (sentence, figures = {}) =>
  (catalog[sentence] || sentence).replace(/\{(\w+)\}/g, (whole, name) => (name in figures ? String(figures[name]) : whole));

// Texts of the data that the log shows: places, gears, headlines. They are English for the other tabs; the
// data of each direction have them in the language of the crew too.
let textsNow = () => ({});

export const setTexts = (find) => {
  textsNow = find;
};
export const named = (text) => textsNow()?.[text] ?? text;
