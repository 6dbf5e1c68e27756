// The strip tells the truth about saving, on every page: "saved", or how many readings are kept where, why, and what to do.
import * as kept from "./kept.js";

const RETRY_MS = 5000;
const strip = document.getElementById("strip");
const said = strip.dataset;
let saved = false;

function link(words, address) {
  const made = document.createElement("a");
  made.href = address;
  made.textContent = words;
  return made;
}

async function show() {
  const readings = await kept.all();
  const refused = readings.find((each) => each.refused);
  const away = readings.filter(kept.isElsewhere).length;
  const parts = [];
  if (readings.length) {
    parts.push(`${readings.length} ${kept.onPageOnly() ? said.page : said.tablet}`);
    if (said.practice && away) parts.push(`${away} ${said.elsewhere}`);
    if (said.practice && kept.state === "out") parts.push(link(said.out, `${said.signIn}?next=${encodeURIComponent(location.pathname + location.search)}`));
    else if (said[kept.state] && kept.state !== "out") parts.push(said[kept.state]);
    if (refused && said.practice === refused.practice) parts.push(link(said.refused, refused.page));
  } else if (saved) parts.push(said.saved);
  strip.replaceChildren(...parts.flatMap((each, k) => (k ? [". ", each] : [each])));
  strip.hidden = !parts.length;
  strip.classList.toggle("unsaved", readings.length > 0);
}

kept.told.addEventListener("change", show);
kept.told.addEventListener("saved", () => { saved = true; });
window.addEventListener("online", kept.send);
window.addEventListener("beforeunload", (event) => { if (kept.onPageOnly()) event.preventDefault(); });
// Nothing is asked of the clinic while nothing waits.
setInterval(async () => { if ((await kept.all()).some((each) => !each.refused && !kept.isElsewhere(each))) kept.send(); }, RETRY_MS);
kept.all().then((found) => { if (found.length) kept.send(); });
