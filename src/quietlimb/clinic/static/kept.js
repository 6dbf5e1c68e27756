// Readings that are not known to be saved, in this browser's own database until the clinic says that it has them. The
// database is IndexedDB and not localStorage for one reason: a strict transaction tells when it is on the disk, and only
// then may a page say "kept on this tablet". Each reading is bound to practice, person, series, key and ordinal. They are
// sent one at a time in the order typed, by one tab of the browser; the key makes a second sending harmless.
const STORE = "readings";
const LAST = "quietlimb-last-saved ";
const GIVE_UP_MS = 15000;
const strip = document.getElementById("strip");
const writing = []; // on their way to the disk
const unstored = []; // this browser lets no page keep anything
const elsewhere = new Set(); // not to be had under this sign-in; tried again with the next page
let token = strip.dataset.token;
let opened = null;

export const told = new EventTarget(); // "change": the list or its state; "saved": a reading and the part of its page
export let state = ""; // why what is kept is still here: "", "unreached", "unwritten", "out"

function open() {
  opened ??= new Promise((resolve, reject) => {
    const asked = indexedDB.open("quietlimb", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore(STORE, { keyPath: "place", autoIncrement: true });
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
  return opened;
}

async function inside(mode, work) {
  const database = await open();
  return new Promise((resolve, reject) => {
    const transaction = database.transaction(STORE, mode, { durability: "strict" });
    const asked = work(transaction.objectStore(STORE));
    transaction.oncomplete = () => resolve(asked?.result);
    transaction.onabort = transaction.onerror = () => reject(transaction.error);
  });
}

const stored = () => inside("readonly", (store) => store.getAll()).catch(() => []);
const changed = () => told.dispatchEvent(new Event("change"));

export async function all() {
  return [...await stored(), ...unstored, ...writing];
}

export const onPageOnly = () => unstored.length + writing.length;
export const isElsewhere = (reading) => reading.practice !== strip.dataset.practice || elsewhere.has(reading.client_id);

// Keep a reading, in the place of `instead` where it corrects one: both happen, or neither.
export async function keep(reading, instead = null) {
  const bound = { ...reading, practice: strip.dataset.practice, person: strip.dataset.person, refused: null };
  writing.push(bound);
  try {
    await inside("readwrite", (store) => {
      if (instead?.place) store.delete(instead.place);
      return store.add(bound);
    });
  } catch {
    unstored.push(bound);
    if (instead) await forget(instead);
  }
  writing.splice(writing.indexOf(bound), 1);
  changed();
  return send();
}

// One of several was meant although asked about: the others that were refused for the same are asked anew.
export async function askAnew(code, post) {
  for (const each of await all()) {
    if (each.refused?.code !== code || each.post !== post) continue;
    await refuse(each, null);
  }
}

// A page may have left the clinic before a reading got there that another page sent: it asks for the last one's place.
export const lastSaved = (post) => {
  try {
    return Number(localStorage.getItem(LAST + post) ?? -1);
  } catch {
    return -1;
  }
};

function remember({ post, ordinal }) {
  try {
    localStorage.setItem(LAST + post, String(Math.max(ordinal, lastSaved(post))));
  } catch {
    // a browser that keeps nothing: the page then shows what it was sent, as before
  }
}

// Out of the list: the clinic has it, or somebody decided to leave it out.
export async function forget(reading) {
  if (unstored.includes(reading)) unstored.splice(unstored.indexOf(reading), 1);
  else if (reading.place) await inside("readwrite", (store) => store.delete(reading.place));
}

async function refuse(reading, why) {
  reading.refused = why;
  if (reading.place) await inside("readwrite", (store) => store.put(reading));
}

// For who sends something else than a reading.
export async function freshToken() {
  await fresh();
  return token;
}

export function send() {
  if (!strip.dataset.practice) { state = "out"; changed(); return Promise.resolve(); }
  // Without locks two tabs may send the same reading at once; its key makes that one row.
  return navigator.locks ? navigator.locks.request("quietlimb-sending", sendAll) : sendAll();
}

async function sendAll() {
  for (;;) {
    const next = [...await stored(), ...unstored].find((each) => !each.refused && !isElsewhere(each));
    if (!next) break;
    const went = await sendOne(next);
    if (went === "again") continue;
    state = went;
    changed();
    if (state) return;
  }
  state = "";
  changed();
}

async function sendOne(reading) {
  let answer = await post(reading);
  if (answer?.status === 403 && await fresh()) answer = await post(reading);
  if (!answer) return "unreached"; // whether it arrived is not known: it is sent again under the same key
  if (answer.type === "opaqueredirect" || answer.status === 403) return "out";
  if (answer.ok && answer.headers.get("Quietlimb-Saved") === reading.client_id) {
    const text = await answer.text().catch(() => "");
    remember(reading);
    await forget(reading);
    told.dispatchEvent(new CustomEvent("saved", { detail: { reading, text, elsewhere: answer.headers.get("Quietlimb-Series") } }));
    return "";
  }
  if (answer.status === 404) {
    elsewhere.add(reading.client_id);
    return "again";
  }
  const why = [409, 422].includes(answer.status) ? await answer.json().catch(() => null) : null;
  if (!why?.says) return "unwritten"; // full disk, or something between that is not the clinic
  await refuse(reading, why);
  return "again";
}

async function post(reading) {
  const { client_id, ordinal, taken_at, spoiled, sure, values, person } = reading;
  try {
    return await fetch(reading.post, {
      method: "POST", redirect: "manual", credentials: "same-origin", signal: AbortSignal.timeout(GIVE_UP_MS),
      headers: { "Content-Type": "application/json", "X-CSRFToken": token },
      body: JSON.stringify({ client_id, ordinal, taken_at, spoiled, sure, typed_by: person, ...values }),
    });
  } catch {
    return null;
  }
}

// Somebody came back or took over in another tab: the form's token is new then.
async function fresh() {
  try {
    const found = await (await fetch(strip.dataset.here, { credentials: "same-origin" })).json();
    token = found.token;
    return found.practice === strip.dataset.practice;
  } catch {
    return false;
  }
}
