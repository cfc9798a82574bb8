// Pull logs in the browser's own database. Entries are only ever added, each under a key of its own, so
// that two tabs of the same page never overwrite one another. IndexedDB rather than localStorage: a
// transaction that is "strict" is on the disk before it ends, which a battery that dies cannot undo, and
// a full store says so instead of failing later.

const DATABASE = "route3d pull logs";
let opened = null;

function database() {
  opened ??= new Promise((resolve, reject) => {
    const asked = indexedDB.open(DATABASE, 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("records", { keyPath: "id" });
      asked.result.createObjectStore("drafts", { keyPath: "base" });
    };
    asked.onsuccess = () => {
      // not to be thrown out when the device runs low, where a browser offers that
      navigator.storage?.persist?.().catch(() => {});
      resolve(asked.result);
    };
    asked.onerror = asked.onblocked = () => reject(asked.error);
  }).catch((error) => {
    opened = null; // the next tap tries again
    throw error;
  });
  return opened;
}

const done = (transaction) => new Promise((resolve, reject) => {
  transaction.oncomplete = () => resolve();
  transaction.onabort = transaction.onerror = () => reject(transaction.error);
});

// Adds records and replaces the draft (what is typed and not entered yet, and the clock); rejects where
// nothing was kept.
export async function keepRecords(records, draft) {
  const transaction = (await database()).transaction(["records", "drafts"], "readwrite", { durability: "strict" });
  const ended = done(transaction);
  for (const record of records) transaction.objectStore("records").put(record);
  transaction.objectStore("drafts").put(draft);
  transaction.commit?.(); // handed to the browser before a reload can come in between
  await ended;
}

export async function keptRecords() {
  const transaction = (await database()).transaction(["records", "drafts"]);
  const [records, drafts] = ["records", "drafts"].map((name) => transaction.objectStore(name).getAll());
  await done(transaction);
  return { records: records.result, drafts: drafts.result };
}
