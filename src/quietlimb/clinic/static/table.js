// The slots at the table. A reading leaves them at once, so that the next can be typed; `kept.js` keeps it until the
// clinic has it. What waits is shown dashed, beside the picture's band. What is refused comes back into the slots.
import * as kept from "./kept.js";
import { clockTime, momentOf, readLines } from "./lines.js";
import { fromMmhg, toMmhg } from "./units.js";

// Under which a reading is one row, however often it is sent.
export function key() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/(.{8})(.{4})(.{4})(.{4})(.{12})/, "$1-$2-$3-$4-$5");
}

export function swap(text) {
  const part = new DOMParser().parseFromString(text, "text/html").getElementById("series");
  if (!part) return;
  document.getElementById("series").replaceWith(part);
  window.htmx?.process(part);
}

const form = document.getElementById("entry");
if (form) {
  const said = document.getElementById("entry-said");
  const list = document.getElementById("kept");
  const leaveOut = document.getElementById("leave-out");
  const slots = [...form.querySelectorAll("#slots input[name]")];
  const earlier = document.getElementById("earlier"); // shows the slot for the time
  const time = document.getElementById("taken");
  const lines = document.getElementById("lines");
  const reasons = [...form.querySelectorAll("[data-reason]")];
  let ordinal = Number(form.dataset.ordinal);
  let correcting = null; // the refused reading that stands in the slots

  const pressed = () => reasons.find((each) => each.getAttribute("aria-pressed") === "true");
  const press = (one) => { for (const each of reasons) each.setAttribute("aria-pressed", String(each === one)); };
  const empty = () => slots.every((slot) => slot.value.trim() === "") && !pressed();
  const ofThisSeries = async () => (await kept.all()).filter((each) => each.post === form.dataset.post);

  const unitOf = (name) => (name === "pulse_rate" ? "" : form.dataset.unit);
  const shown = (values, name) => fromMmhg(values[name], unitOf(name)) ?? "";

  function number(text, name) {
    const plain = text.trim().replace(",", ".");
    return plain === "" ? null : Number.isFinite(Number(plain)) ? toMmhg(Number(plain), unitOf(name)) : plain;
  }

  // What nobody has touched stays to the last digit: it may have been typed in another unit.
  function valueOf(slot) {
    const before = correcting?.values[slot.name] ?? null;
    return before !== null && slot.value === String(shown(correcting.values, slot.name)) ? before : number(slot.value, slot.name);
  }

  function tell(text, slot) {
    said.textContent = text;
    if (text) said.scrollIntoView({ block: "nearest" });
    for (const each of slots) each.setAttribute("aria-invalid", String(each.name === slot));
    time.setAttribute("aria-invalid", String(slot === "taken_at"));
  }

  const asksTime = () => earlier.getAttribute("aria-pressed") === "true";
  function askTime(on) {
    earlier.setAttribute("aria-pressed", String(on));
    time.closest(".field").hidden = !on;
    time.value = "";
  }

  function clear() {
    correcting = null;
    leaveOut.hidden = true;
    for (const slot of slots) slot.value = "";
    press(null);
    tell("", "");
    time.value = "";
    (asksTime() ? time : slots[0]).focus();
  }

  function take() {
    const when = asksTime() ? momentOf(time.value, form.dataset.began, form.dataset.offset) : new Date();
    if (!when) {
      tell(said.dataset.time, "taken_at");
      time.focus();
      return;
    }
    const values = Object.fromEntries(slots.map((slot) => [slot.name, valueOf(slot)]));
    const spoiled = pressed()?.dataset.reason ?? "";
    const sameTime = !asksTime() || time.value === clockTime(correcting?.taken_at ?? when, form.dataset.offset);
    const same = correcting && sameTime && JSON.stringify([correcting.values, correcting.spoiled]) === JSON.stringify([values, spoiled]);
    const reading = {
      client_id: key(), values, spoiled,
      // A corrected reading keeps its place and, unless another is typed, its time; unchanged after a question, it is meant.
      ordinal: correcting?.ordinal ?? ordinal++, taken_at: (asksTime() ? when : new Date(correcting?.taken_at ?? when)).toISOString(),
      sure: Boolean(same && correcting.refused.asks), post: form.dataset.post, page: form.dataset.page,
    };
    const instead = correcting;
    clear();
    const { code } = instead?.refused ?? {};
    kept.keep(reading, instead).then(async () => {
      if (code !== "far-in-time" || !reading.sure) return;
      await kept.askAnew(code, reading.post); // the clinic now has one near to them
      kept.send();
    });
  }

  // Several readings at once, taken before: all lines are understood, or none is taken.
  async function takeLines() {
    const field = lines.querySelector("textarea");
    const told = lines.querySelector("[role=status]");
    const found = readLines(field.value, {
      slots: slots.map((slot) => slot.name), number, began: form.dataset.began, offset: form.dataset.offset,
      reasons: new Map(reasons.map((each) => [each.textContent.trim().toLowerCase(), each.dataset.reason])),
    });
    field.setAttribute("aria-invalid", String("wrong" in found));
    told.textContent = "wrong" in found ? `${lines.dataset.wrong} ${found.wrong}` : "";
    field.focus();
    if ("wrong" in found) return;
    field.value = "";
    for (const each of found.readings) {
      await kept.keep({
        ...each, client_id: key(), ordinal: ordinal++, sure: false, post: form.dataset.post, page: form.dataset.page,
      });
    }
  }

  async function giveBack() {
    const refused = (await ofThisSeries()).find((each) => each.refused);
    if (!refused || correcting || !empty()) return;
    correcting = refused;
    leaveOut.hidden = false;
    for (const slot of slots) slot.value = shown(refused.values, slot.name);
    press(reasons.find((each) => each.dataset.reason === refused.spoiled));
    const why = refused.refused;
    if (why.field === "taken_at") askTime(true);
    if (asksTime()) time.value = clockTime(refused.taken_at, form.dataset.offset);
    tell(`${why.says}; ${why.remedy}${why.asks ? ` ${said.dataset.sure}` : ""}`, why.field);
    const at = why.field === "taken_at" ? time : slots.find((slot) => slot.name === why.field) ?? slots[0];
    at.focus();
    at.select();
  }

  function draw(waiting) {
    const picture = document.querySelector("#series .picture");
    if (!picture) return;
    for (const each of picture.querySelectorAll(".unsaved")) each.remove();
    const [top, bottom, low, high, lane] = ["top", "bottom", "low", "high", "lane"].map((name) => Number(picture.dataset[name]));
    for (const { values } of waiting) {
      if (typeof values.systolic !== "number") continue;
      const share = Math.min(1, Math.max(0, (values.systolic - low) / (high - low)));
      const dot = document.createElementNS("http://www.w3.org/2000/svg", "circle");
      const at = { class: "unsaved", cx: lane, cy: bottom - (bottom - top) * share, r: 8 };
      for (const [name, value] of Object.entries(at)) dot.setAttribute(name, value);
      picture.append(dot);
    }
  }

  // The clock of the practice, as in the list above, whatever the tablet's is set to.
  function byThePractice(takenAt) {
    const [, sign, hours, minutes] = /^([+-])(\d\d):(\d\d)$/.exec(form.dataset.offset) ?? [null, "+", "0", "0"];
    const ahead = (sign === "-" ? -1 : 1) * (Number(hours) * 60 + Number(minutes)) * 60_000;
    return new Date(Date.parse(takenAt) + ahead).toISOString().slice(11, 16);
  }

  async function show() {
    const waiting = await ofThisSeries();
    // Taken meanwhile, by another answer or another tab, or asked anew: it is not to be corrected here.
    if (correcting && !waiting.find((each) => each.client_id === correcting.client_id)?.refused) clear();
    ordinal = Math.max(ordinal, ...waiting.map((each) => each.ordinal + 1));
    list.replaceChildren(...waiting.map((each) => {
      const line = document.createElement("li");
      const numbers = slots.map((slot) => shown(each.values, slot.name) || "-").join(" / ");
      const time = byThePractice(each.taken_at);
      line.textContent = `${time}  ${numbers}${each.spoiled ? `  ${each.spoiled}` : ""}`;
      line.classList.toggle("refused", Boolean(each.refused));
      return line;
    }));
    if (form.dataset.shut !== undefined) form.hidden = waiting.length === 0;
    draw(waiting);
    giveBack();
  }

  for (const each of reasons) each.addEventListener("click", () => {
    press(each === pressed() ? null : each);
    (slots.find((slot) => slot.value.trim() === "") ?? slots.at(-1)).focus(); // the numbers, if there are any, come next
  });
  leaveOut.addEventListener("click", async () => {
    const out = correcting;
    clear();
    await kept.forget(out);
    kept.send();
  });
  earlier.addEventListener("click", () => {
    askTime(!asksTime());
    (asksTime() ? time : slots[0]).focus();
  });
  lines?.querySelector("button").addEventListener("click", takeLines);
  lines?.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !(event.ctrlKey || event.metaKey)) return;
    event.preventDefault();
    event.stopPropagation(); // it is the main action elsewhere on the page
    takeLines();
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (!empty()) take();
  });
  form.addEventListener("keydown", (event) => {
    // Enter goes on to the next slot, and saves from the last: the display is read from top to bottom.
    if (event.key !== "Enter" || event.ctrlKey || event.metaKey || !(event.target instanceof HTMLInputElement)) return;
    event.preventDefault();
    const next = slots[slots.indexOf(event.target) + 1]; // from the time, which is none of them, to the first
    if (!next) return form.requestSubmit();
    next.focus();
    next.select(); // what is typed now stands in place of what stood there
  });
  kept.told.addEventListener("saved", ({ detail }) => {
    if (detail.reading.post !== form.dataset.post) return;
    if (detail.elsewhere) window.location.assign(detail.elsewhere); // recordings stand here, and typed readings went beside
    else swap(detail.text);
  });
  // What the page before this one sent may have been saved after this one left the clinic.
  async function catchUp() {
    const last = kept.lastSaved(form.dataset.post);
    if (last < ordinal) return;
    ordinal = last + 1; // before the answer, so that what is typed meanwhile takes no place that is taken
    const answer = await fetch(form.dataset.again, { credentials: "same-origin", redirect: "manual" }).catch(() => null);
    if (!answer?.ok) return;
    swap(await answer.text());
    show();
  }

  kept.told.addEventListener("change", show);
  window.addEventListener("pageshow", catchUp);
  document.addEventListener("htmx:after:swap", show);
  document.getElementById("slots").disabled = false;
  if (!form.hidden) slots[0].focus();
  show();
}
