// The clock at the table: how long the cuff has been up, how long the limb still rests. It advises and blocks nothing, and
// needs no network: it counts from the readings on this page, saved or kept.
import * as kept from "./kept.js";

const clock = document.getElementById("rest");
if (clock) {
  const said = clock.dataset;
  const text = clock.querySelector("[role=timer]");
  const cuff = document.getElementById("cuff-up");
  const form = document.getElementById("entry");
  const seconds = (name) => Number(said[name]);
  let upSince = null; // the cuff is under pressure
  let unseen = false; // and a sensor that saw it tells nothing any more
  let bySensor = false; // not by a press of the button
  let releasedAt = -Infinity; // a long pressure ended without a reading, or with one
  let longPressure = false;
  let waiting = [];

  const times = () => [
    ...[...document.querySelectorAll("#series time")].map((each) => Date.parse(each.dateTime)),
    ...waiting.map((each) => Date.parse(each.taken_at)),
  ].sort((a, b) => a - b);

  // Until when the limb rests, and why: the latest end counts.
  function rest() {
    const taken = times();
    const last = taken.at(-1) ?? -Infinity;
    const few = taken.at(-seconds("tries")) ?? -Infinity;
    const reasons = [{ until: last + 1000 * seconds("atLeast"), why: said.between }];
    if (last - few <= 1000 * seconds("within")) reasons.push({ until: last + 1000 * seconds("rests"), why: said.often });
    if (longPressure) reasons.push({ until: releasedAt + 1000 * seconds("rests"), why: said.long });
    return { last, ...reasons.reduce((a, b) => (b.until > a.until ? b : a)) };
  }

  function tick() {
    const now = Date.now();
    const { until, why, last } = rest();
    let words = "";
    let at_once = false;
    if (unseen) {
      at_once = true;
      words = said.unseen;
    } else if (upSince !== null) {
      const up = Math.floor((now - upSince) / 1000);
      at_once = up >= seconds("longest");
      words = `${said.up} ${up} s${at_once ? `. ${said.release}` : ""}`;
    } else if (now < until) words = `${why} ${Math.ceil((until - now) / 1000)} s`;
    else if (now < last + 1000 * seconds("better")) words = said.may;
    text.textContent = words;
    clock.classList.toggle("at-once", at_once);
  }

  function release() {
    if (upSince === null) return;
    longPressure = Date.now() - upSince >= 1000 * seconds("longest");
    releasedAt = Date.now();
    upSince = null;
    unseen = bySensor = false;
    cuff.setAttribute("aria-pressed", "false");
  }

  cuff.addEventListener("click", () => {
    if (upSince !== null) release();
    else {
      upSince = Date.now();
      cuff.setAttribute("aria-pressed", "true");
    }
    tick();
  });
  // What a sensor on the cuff sees. An empty cuff ends only what a sensor began: another one may be up, by the button.
  document.addEventListener("cuff", ({ detail: { state, seconds: inflated } }) => {
    if (state === "down") { if (bySensor) release(); } else {
      bySensor = true;
      unseen = state === "unseen";
      if (upSince === null || inflated) upSince = Date.now() - 1000 * (inflated ?? 0);
      cuff.setAttribute("aria-pressed", "true");
    }
    tick();
  });
  form.addEventListener("submit", () => { release(); tick(); });
  kept.told.addEventListener("change", async () => {
    waiting = (await kept.all()).filter((each) => each.post === form.dataset.post);
    tick();
  });
  setInterval(tick, 500);
  tick();
}
