// What waits on this phone: forms in the browser's own database until the laptop has taken each.
"use strict";
globalThis.waitingForms = (() => {
  const open = () => new Promise((done, fail) => {
    const asked = indexedDB.open("ribwright", 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("waiting", {keyPath: "n", autoIncrement: true}).createIndex("id", "id", {unique: true});
      asked.result.createObjectStore("phone");
    };
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => fail(asked.error);
  });
  // done only when it is on the disk
  const within = async (store, mode, work) => {
    const base = await open();
    try {
      return await new Promise((done, fail) => {
        const change = base.transaction(store, mode, {durability: "strict"});
        const asked = work(change.objectStore(store));
        change.oncomplete = () => done(asked?.result);
        change.onabort = change.onerror = () => fail(change.error);
      });
    } finally { base.close(); }
  };
  const letters = (n) => [...crypto.getRandomValues(new Uint8Array(n))].map((b) => b.toString(16).padStart(2, "0")).join("");
  let phone = "";
  const freshId = async () => {
    if (!phone) phone = await within("phone", "readonly", (s) => s.get("mark"));
    if (!phone) { phone = letters(4); await within("phone", "readwrite", (s) => s.put(phone, "mark")); }
    return "phone-" + phone + "-" + letters(16);
  };
  const all = () => within("waiting", "readonly", (s) => s.getAll());
  const add = (item) => within("waiting", "readwrite", (s) => s.add(item));
  const put = (item) => within("waiting", "readwrite", (s) => s.put(item));
  const drop = (n) => within("waiting", "readwrite", (s) => s.delete(n));
  const byId = (id) => within("waiting", "readonly", (s) => s.index("id").get(id));
  const clear = async () => { await within("waiting", "readwrite", (s) => s.clear()); };

  // One sender at a time, in the order of entering. A form is struck off only when the answer names it as taken.
  const send = () => navigator.locks.request("ribwright-queue", {ifAvailable: true}, async (lock) => {
    if (!lock) return "busy";
    for (const item of await all()) {
      if (item.state !== "waits") continue;
      const form = new FormData();
      for (const [name, value] of item.fields) if (value instanceof Blob) form.append(name, value, value.name || "photo"); else form.append(name, value);
      let answer;
      try {
        answer = await fetch(item.url, {method: "POST", body: form, headers: {"ribwright-queue": "yes", accept: "application/json"}, redirect: "manual", credentials: "same-origin"});
      } catch { return "away"; }
      if (answer.headers.get("ribwright-shut-out") === "yes") return "shut out";
      if (answer.ok && answer.headers.get("ribwright-taken") === item.id) { await drop(item.n); continue; }
      if (answer.status === 401) return "not let in";
      if (!(answer.status >= 400 && answer.status < 500) || answer.status === 429 || answer.status === 408) return "away";
      let said = {said: ["It was refused."], clashes: []};
      try { said = await answer.json(); } catch { said.said = ["It was refused (" + answer.status + ")."]; }
      await put({...item, state: "refused", said: said.said, clashes: said.clashes});
    }
    return "sent";
  });
  return {add, all, put, drop, byId, clear, freshId, send};
})();
