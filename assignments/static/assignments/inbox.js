// Recordings that the phone's own recorder shared with this site, until somebody has said what they are.
//
// The service worker puts them in, the page that sends files takes them out; so this is one script for both, and no module.
// A row: {key, profile ("" when nobody was signed in), file, at}.

{
  const UNCLAIMED_STAYS_MS = 7 * 24 * 3600 * 1000; // whose they are nobody said; the phone's recorder has them still

  const opened = () =>
    new Promise((resolve, reject) => {
      const request = indexedDB.open("footing-inbox", 1);
      request.onupgradeneeded = () => request.result.createObjectStore("files", { keyPath: "key" });
      request.onsuccess = () => resolve(request.result);
      request.onerror = () => reject(request.error);
    });

  const change = async (work) => {
    const database = await opened();
    try {
      await new Promise((resolve, reject) => {
        const transaction = database.transaction("files", "readwrite", { durability: "strict" });
        transaction.oncomplete = () => resolve();
        transaction.onabort = () => reject(transaction.error);
        work(transaction.objectStore("files"));
      });
    } finally {
      database.close();
    }
  };

  const all = async () => {
    let rows = [];
    await change((store) => {
      store.getAll().onsuccess = ({ target }) => {
        rows = target.result;
        const isOld = (row) => row.profile === "" && row.at < Date.now() - UNCLAIMED_STAYS_MS;
        rows.filter(isOld).forEach((row) => store.delete(row.key));
        rows = rows.filter((row) => !isOld(row)).sort((a, b) => a.at - b.at);
      };
    });
    return rows;
  };

  self.inbox = {
    // All of them or none, when the phone is too full.
    put: (files, profile) =>
      change((store) =>
        files.forEach((file, place) => store.put({ key: crypto.randomUUID(), profile, file, at: Date.now() + place })),
      ),
    of: async (profile) => (await all()).filter((row) => row.profile === profile),
    claim: (rows, profile) => change((store) => rows.forEach((row) => store.put({ ...row, profile }))),
    drop: (keys) => change((store) => keys.forEach((key) => store.delete(key))),
  };
}
