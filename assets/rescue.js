// Draws the page that stands in for the app after it broke, and hands out what is saved on this device.
// It shares nothing with the app but the names in the database.
(() => {
  "use strict";
  const RECORDS = "upsweep";
  let drawn = false;

  const add = (parent, tag, text) => {
    const made = document.createElement(tag);
    if (text) made.textContent = text;
    parent.append(made);
    return made;
  };

  const answer = (request) => new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

  // Opens what is there; a database that is not there is not made.
  const open = (name) => new Promise((resolve, reject) => {
    const request = indexedDB.open(name);
    request.onupgradeneeded = () => request.transaction.abort();
    request.onblocked = () => reject(new Error("another tab holds the records"));
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error?.name === "AbortError"
      ? new Error("nothing was saved on this device yet") : request.error);
  });

  // PIN records and the like stay behind: of the small facts only the head of the chain goes out.
  const read = async (name) => {
    const database = await open(name);
    try {
      const transaction = database.transaction(["packs", "meta", "couch"], "readonly");
      const packs = transaction.objectStore("packs");
      const couch = transaction.objectStore("couch");
      const [lines, head, keys, values] = await Promise.all([
        answer(packs.getAll()), answer(transaction.objectStore("meta").get("head")),
        answer(couch.getAllKeys()), answer(couch.getAll()),
      ]);
      return {
        format: "upsweep-rescue", version: 1, database: name, demo: name !== RECORDS,
        saved_at: new Date().toISOString(), head: head ?? "", packs: lines,
        couch: keys.map((key, n) => ({ key, value: values[n] })),
      };
    } finally {
      database.close();
    }
  };

  const handOut = (name, text) => {
    const link = document.createElement("a");
    const address = URL.createObjectURL(new Blob([text], { type: "application/json" }));
    link.href = address;
    link.download = name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(address), 60000);
  };

  const save = async (name, status) => {
    status.textContent = "Reading what is saved …";
    try {
      const copy = await read(name);
      const entries = copy.packs.reduce((count, pack) => count + pack.split("\n").length, 0);
      handOut(`${name}-rescue-${copy.saved_at.slice(0, 10)}.json`, JSON.stringify(copy));
      status.textContent = `The copy holds ${entries} entries and ${copy.couch.length} taps of services under way. `
        + "It holds names and health answers: keep it where only you can read it.";
    } catch (error) {
      status.textContent = `No copy could be made: ${error?.message || error}. `
        + "What is saved stays on this device. Reload the page and try again.";
    }
  };

  // `place`: where the app broke. `database`: which database was in use.
  window.upsweepRescue = (place, database) => {
    if (drawn) return;
    drawn = true;
    const name = database || RECORDS;
    const page = document.createElement("main");
    page.id = "rescue";
    page.className = "rescue";
    const title = add(page, "h1", "Upsweep has stopped");
    title.tabIndex = -1;
    add(page, "p", "Everything you had confirmed is saved on this device, a service under way included: "
      + "reload to go on where you were. A form that was not saved yet has to be filled in again.");
    const warning = add(page, "p");
    add(warning, "strong", "A countdown that was running no longer shows and its alarm may not sound: "
      + "if product is on, use a second timer now.");
    const status = document.createElement("p");
    status.setAttribute("role", "status");
    const buttons = add(page, "p");
    const button = (label, act) => {
      const made = add(buttons, "button", label);
      made.type = "button";
      made.addEventListener("click", act);
      buttons.append(" ");
    };
    button("Reload", () => location.reload());
    button("Save a copy of all records", () => save(name, status));
    page.append(status);
    if (place) add(page, "p", `Where it broke, for whoever mends it: ${place}`);
    document.title = "Upsweep has stopped";
    document.querySelectorAll("dialog[open]").forEach((dialog) => dialog.close());
    document.body.replaceChildren(page);
    title.focus();
  };
})();
