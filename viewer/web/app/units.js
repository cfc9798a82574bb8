// Printing of SI numbers with their units, from the table in the data.

import { decimalsOf } from "./film.js";

export function printer(quantities, units) {
  const inUnits = (value, quantity) => value * quantities[quantity][units].per;
  const unit = (quantity) => quantities[quantity][units].unit;
  const show = (value, quantity) => {
    if (value === null || value === undefined || !Number.isFinite(value)) return "-";
    const number = inUnits(value, quantity);
    const decimals = decimalsOf(number, quantity, quantities[quantity][units].decimals);
    const far = Math.abs(number) >= 1e9; // no such pull: keep it to one line
    const text = far ? number.toExponential(2) : number.toLocaleString("en-US", {
      minimumFractionDigits: decimals, maximumFractionDigits: decimals,
    });
    const glue = quantity === "percent" ? "" : "\u00a0";
    return text.replace(/^-(?=[0.]*$)/, "") + glue + unit(quantity);
  };
  return { inUnits, unit, show };
}

export function plain(value, decimals = 6) {
  if (Math.abs(value) >= 1e7) return value.toExponential(1);
  return Number(value.toPrecision(decimals)).toLocaleString("en-US", { maximumFractionDigits: 4 });
}
