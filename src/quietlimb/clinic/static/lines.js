// Times of the day as they are typed after the fact, and readings one line each: "09:12 162/128/104 180".
const FUTURE_MS = 10 * 60_000; // as the clinic allows: clocks of tablets are not all alike
const DAY_MS = 86_400_000;

// "+01:00" in milliseconds.
const ahead = (offset) => (offset[0] === "-" ? -1 : 1) * (Number(offset.slice(1, 3)) * 60 + Number(offset.slice(4, 6))) * 60_000;

// The moment that a time of the day names, by the practice's clock: of those that have come, the nearest to when the session
// began, so that one before or after midnight is meant as it was. null where it names none.
export function momentOf(text, began, offset) {
  const parts = /^([0-9]{1,2})[:.h]([0-9]{2})(?::([0-9]{2}))?$/.exec(text.trim()) ?? /^([0-9]{2})([0-9]{2})$/.exec(text.trim());
  if (!parts) return null;
  const [hours, minutes, seconds] = [parts[1], parts[2], parts[3] ?? "0"].map(Number);
  if (hours > 23 || minutes > 59 || seconds > 59) return null;
  const start = Date.parse(began);
  const midnight = Math.floor((start + ahead(offset)) / DAY_MS) * DAY_MS - ahead(offset);
  const there = midnight + ((hours * 60 + minutes) * 60 + seconds) * 1000;
  const come = [there - DAY_MS, there, there + DAY_MS].filter((each) => each <= Date.now() + FUTURE_MS);
  come.sort((a, b) => Math.abs(a - start) - Math.abs(b - start));
  return come.length ? new Date(come[0]) : null;
}

// The time of the day of a moment, by the practice's clock.
export const clockTime = (moment, offset) => new Date(Date.parse(moment) + ahead(offset)).toISOString().slice(11, 16);

// All lines as readings in their order, or the first one that is not understood. A line is a time, the numbers in the order
// of the slots with "-" for one that is missing, and, where it spoiled, the reason.
export function readLines(text, { slots, number, began, offset, reasons }) {
  const readings = [];
  for (const line of text.split("\n").map((each) => each.trim()).filter(Boolean)) {
    const [time, ...rest] = line.split(/[\s/;]+/);
    const when = momentOf(time, began, offset);
    const words = rest.findIndex((each) => /[^-0-9.,]/.test(each));
    const numbers = (words < 0 ? rest : rest.slice(0, words)).filter(Boolean);
    const reason = words < 0 ? "" : reasons.get(rest.slice(words).join(" ").toLowerCase());
    if (!when || reason === undefined || numbers.length > slots.length || (!numbers.length && !reason)) return { wrong: line };
    const values = Object.fromEntries(slots.map((slot, k) => [slot, numbers[k] === undefined || numbers[k] === "-" ? null : number(numbers[k], slot)]));
    readings.push({ values, spoiled: reason, taken_at: when.toISOString() });
  }
  return { readings };
}
