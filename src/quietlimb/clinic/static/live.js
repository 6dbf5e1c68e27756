// A capture while it runs: pressure now in big numerals, the trace and its pulses on one upright axis, the values as they
// become known, one sentence. Everything comes as news from the clinic; any number of screens follow the same capture.
import { freshToken } from "./kept.js";
import { swap } from "./table.js";

const NAMES = ["systolic", "mean", "diastolic", "pulse_rate"];
const LEAST_TOP_MMHG = 200;
const LEAST_SPAN_S = 30;
// The clinic tells within a second when nothing comes from the source; longer without a word is no news from the clinic. Of an
// instrument that measures by itself pressures come more seldom. [invented]
const SILENT_MS = 2500;
const SELDOM_MS = 5000;
// So late at most a page that was opened before notices that somebody listens. One that is refused asks ten times more seldom.
const ASK_EVERY_MS = 4000;
const REFUSED_RESTS = 10;
const TRACE_SHARE = 0.62; // of the width; pulse heights have the rest

export function follow(place) {
  const part = (name) => place.querySelector(`[data-live=${name}]`);
  const canvas = part("picture");
  let trace = { t: [], p: [] };
  let pulses = [];
  let values = {};
  let source = null;
  let drawn = false;
  let silence = null;
  let full = Boolean(place.dataset.full); // air was in the cuff, as far as anybody saw

  // For the clock at the table: `up` with air in it, `unseen` where it had and nobody sees it now, `down` without.
  function cuff(state, seconds = 0) { document.dispatchEvent(new CustomEvent("cuff", { detail: { state, seconds } })); }

  // A number that nobody renews must not stand there as if it were the pressure now.
  function lose(text, atOnce = true) {
    clearTimeout(silence);
    for (const name of ["now", "phase", "fall", "counted"]) part(name).textContent = name === "now" ? "-" : "";
    say(text, atOnce);
    if (!full) return;
    cuff("unseen");
    part("says").scrollIntoView({ block: "nearest" });
  }

  function heard(news, longest) {
    clearTimeout(silence);
    silence = setTimeout(() => lose(place.dataset.lost), longest);
    full = news.full;
    cuff(full ? "up" : "down", news.inflated_s);
  }

  function begin() { trace = { t: [], p: [] }; pulses = []; values = {}; }

  function colours() {
    const style = getComputedStyle(place);
    const of = (name) => style.getPropertyValue(name).trim();
    return { ink: of("--ink"), quiet: of("--quiet"), line: of("--hairline"), accent: of("--accent") };
  }

  // Once a frame, however much news came; a hidden page draws nothing.
  function draw() {
    drawn = false;
    const ratio = window.devicePixelRatio || 1;
    const [width, height] = [canvas.clientWidth, canvas.clientHeight];
    if (!width) return;
    if (canvas.width !== width * ratio) { canvas.width = width * ratio; canvas.height = height * ratio; }
    const ink = canvas.getContext("2d");
    ink.setTransform(ratio, 0, 0, ratio, 0, 0);
    ink.clearRect(0, 0, width, height);
    const colour = colours();
    const top = Math.max(LEAST_TOP_MMHG, ...trace.p.slice(0, 1), trace.p.reduce((a, b) => Math.max(a, b), 0)) + 10;
    const left = 44;
    const middle = left + (width - left) * TRACE_SHARE;
    const y = (p) => height - 14 - (height - 24) * Math.max(0, p) / top;
    ink.font = "12px system-ui, sans-serif";
    ink.lineWidth = 1;
    for (let p = 0; p <= top; p += 50) {
      ink.strokeStyle = colour.line; ink.fillStyle = colour.quiet;
      ink.beginPath(); ink.moveTo(left, y(p)); ink.lineTo(width, y(p)); ink.stroke();
      ink.textAlign = "right"; ink.fillText(String(p), left - 6, y(p) + 4);
    }
    ink.textAlign = "left";
    if (trace.t.length > 1) {
      const [from, to] = [trace.t[0], trace.t[trace.t.length - 1]];
      const x = (t) => left + (middle - left - 12) * (t - from) / Math.max(LEAST_SPAN_S, to - from);
      ink.strokeStyle = colour.ink; ink.lineWidth = 1.5;
      ink.beginPath();
      trace.t.forEach((t, k) => (k ? ink.lineTo(x(t), y(trace.p[k])) : ink.moveTo(x(t), y(trace.p[k]))));
      ink.stroke();
    }
    const highest = Math.max(0.5, ...pulses.filter((each) => each[3]).map((each) => each[2]));
    for (const [, pressure, size, kept] of pulses) {
      const reach = (width - middle - 8) * Math.min(1, Math.max(0, size / highest));
      ink.strokeStyle = ink.fillStyle = kept ? colour.accent : colour.quiet;
      ink.lineWidth = kept ? 2 : 1;
      ink.beginPath(); ink.moveTo(middle, y(pressure)); ink.lineTo(middle + reach, y(pressure)); ink.stroke();
      ink.beginPath(); ink.arc(middle + reach, y(pressure), 3, 0, 2 * Math.PI);
      if (kept) ink.fill(); else ink.stroke();
    }
    for (const name of NAMES.slice(0, 3)) {
      if (!values[name]) continue;
      const [value, low, high] = values[name];
      ink.strokeStyle = colour.accent; ink.lineWidth = 1;
      ink.setLineDash([6, 4]); ink.beginPath(); ink.moveTo(left, y(value)); ink.lineTo(width, y(value)); ink.stroke(); ink.setLineDash([]);
      ink.lineWidth = 3; ink.beginPath(); ink.moveTo(middle - 4, y(low)); ink.lineTo(middle - 4, y(high)); ink.stroke();
    }
  }

  function soon() { if (!drawn) { drawn = true; requestAnimationFrame(draw); } }

  function say(text, atOnce) {
    const said = part("says");
    if (said.textContent !== text) said.textContent = text;
    said.classList.toggle("at-once", Boolean(atOnce));
  }

  function note(text) {
    const line = document.createElement("li");
    line.textContent = text;
    const list = part("notes");
    list.append(line);
    while (list.children.length > 6) list.firstChild.remove();
  }

  async function renew() {
    const answer = await fetch(place.dataset.changes, { credentials: "same-origin" }).catch(() => null);
    if (answer?.ok) swap(await answer.text());
  }

  const take = {
    samples(news) {
      // A pause as long as between two inflations: what is drawn belongs to the one before.
      trace.t.push(...news.t); trace.p.push(...news.p);
    },
    moment(news) {
      heard(news, SILENT_MS);
      part("now").textContent = news.now;
      part("phase").textContent = place.dataset[news.phase] ?? "";
      part("fall").textContent = news.fall === null || news.phase !== "deflating" ? "" : `${news.fall} mmHg/s`;
      part("counted").textContent = news.counted;
      say(news.says, news.at_once);
      if (news.pulses) pulses = news.pulses;
      values = news.values;
      for (const name of NAMES) {
        const known = news.values[name];
        part(name).textContent = known ? known[0] : "-";
        part(`${name}-interval`).textContent = known ? `${known[1]}-${known[2]}` : "";
      }
    },
    pressure(news) {
      heard(news, SELDOM_MS);
      part("now").textContent = news.now;
      say("");
    },
    lost(news) {
      full = news.full;
      lose(news.says, news.at_once);
      if (!full) cuff("down");
    },
    begun: begin,
    trouble(news) { note(news.says); },
    refused(news) { note(news.says); },
    async saved(news) {
      if (news.says) note(news.says);
      if (!news.reading) return;
      if (String(news.series) !== place.dataset.series) { window.location.assign(`?series=${news.series}`); return; }
      await renew();
    },
    ended(news) {
      source.close();
      if (!place.dataset.training) note(news.says);
      place.dataset.running = "";
      air(news.air);
    },
  };

  function show() {
    const state = place.dataset.running ? "running" : place.dataset.air ? "air" : "idle";
    // While air is let out nothing is typed: the numerals stand first.
    if (state !== "idle" || place.dataset.training) document.getElementById("entry")?.before(place);
    if (state !== "idle") place.querySelector("details").open = true;
    for (const each of place.querySelectorAll("[data-while]")) each.hidden = !each.dataset.while.split(" ").includes(state);
  }

  // A capture has ended: with air left in the cuff, as far as anybody saw, or without.
  function air(text) {
    place.dataset.air = place.dataset.training ? "" : text;
    full = Boolean(place.dataset.air);
    lose(place.dataset.air, full);
    if (!full) cuff("down");
    show();
  }

  function run() {
    place.dataset.running = "yes";
    place.dataset.air = "";
    say("");
    show();
    listen();
  }

  // Somebody may begin to listen at another screen. A page that nobody sees does not ask.
  let rests = 0;
  let asking = false;
  let elsewhere; // as told the last time
  async function ask() {
    if (document.hidden || place.dataset.running || asking) return;
    if (rests > 0) { rests -= 1; return; }
    asking = true;
    const answer = await fetch(place.dataset.here, { credentials: "same-origin", redirect: "manual" }).catch(() => null);
    const told = answer?.ok ? await answer.json().catch(() => null) : null;
    asking = false;
    rests = answer && !answer.ok ? REFUSED_RESTS : 0;
    if (told && !place.dataset.running) hear(told); // meanwhile it may have begun here
  }

  function hear(told) {
    if (told.capture !== place.dataset.capture) {
      place.dataset.capture = told.capture;
      if (told.capture) renew(); // what it has read already
    }
    if (told.running) run();
    else if (!place.dataset.training && told.air !== place.dataset.air) air(told.air);
    const link = part("elsewhere");
    link.hidden = told.elsewhere === null;
    link.firstElementChild.href = `?series=${told.elsewhere}`;
    if (!link.hidden) place.querySelector("details").open = true;
    // It goes there by itself where that began just now and nothing is typed here.
    const began = elsewhere === null && told.elsewhere !== null;
    elsewhere = told.elsewhere;
    const fields = [...document.querySelectorAll("main input:not([type=hidden]), main textarea")];
    if (began && !told.running && fields.every((each) => each.value === each.defaultValue)) window.location.assign(link.firstElementChild.href);
  }

  function listen() {
    source?.close();
    begin();
    part("notes").replaceChildren();
    source = new EventSource(place.dataset.stream);
    // A screen that lost the clinic asks again by itself, and gets the present inflation from its beginning.
    source.addEventListener("open", () => { begin(); soon(); });
    source.addEventListener("message", (event) => {
      const news = JSON.parse(event.data);
      take[news.kind]?.(news);
      soon();
    });
    source.addEventListener("error", () => lose(source.readyState === EventSource.CLOSED ? place.dataset.gone : place.dataset.lost));
  }

  async function send(form) {
    const body = new FormData(form);
    const headers = { "X-CSRFToken": await freshToken() };
    const answer = await fetch(form.action, { method: "POST", body, headers, credentials: "same-origin", redirect: "manual" }).catch(() => null);
    const told = answer && answer.headers.get("Content-Type")?.startsWith("application/json") ? await answer.json() : null;
    const listening = told?.code === "listening-here"; // somebody was first: follow that
    if (told?.says && !listening) note(told.says);
    else if (!answer?.ok && !listening) note(place.dataset.unsent);
    return answer?.ok || listening ? told ?? {} : null;
  }

  place.addEventListener("submit", async (event) => {
    const form = event.target;
    if (!form.matches("[data-send]")) return;
    event.preventDefault();
    const told = await send(form);
    if (told && form.dataset.send === "start") {
      if (told.series && String(told.series) !== place.dataset.series) { window.location.assign(`?series=${told.series}`); return; }
      run();
    }
    if (told && form.dataset.send === "air") air("");
    if (told && form.dataset.send === "look") form.reset();
  });
  window.addEventListener("resize", soon);
  for (const each of place.querySelectorAll("[data-ready]")) each.disabled = false;
  show();
  if (full || place.dataset.air) cuff("unseen"); // until the news come
  if (place.dataset.running) listen();
  setInterval(ask, ASK_EVERY_MS);
  document.addEventListener("visibilitychange", ask);
  ask();
  return { listen, note };
}

const place = document.getElementById("live");
if (place) follow(place);
