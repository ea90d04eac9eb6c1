// All banks at a glance, worst first: which one needs somebody, and how long the others take.
import { amount, bankPage, besides, byId, el, hours, listen, moment, need, openSite, owned, reveal, say, showTab, span, temperature } from "./common.js";

// Worst first. A bank that nobody hears from stands right behind danger: nothing protects it.
const ORDER = ["danger", "silent", "not-yet", "warm", "chore", "yes"];
const WORDS = { danger: "Danger", silent: "Not heard from", "not-yet": "Not yet safe", warm: "Warm", chore: "Safe, something to do", yes: "Safe" };
const TONES = { danger: "hazard", silent: "silent", "not-yet": "permit", warm: "permit", chore: "chore", yes: "safe" };
const SVG = "http://www.w3.org/2000/svg";

let begin;
const begun = new Promise((done) => (begin = done));
const views = new Map();
// The first pulse comes behind the states of all banks: then each has its place.
let stale = false;
const silent = (is) => {
  if (is === stale) return;
  stale = is;
  arrange();
};
listen({ bank: (told) => show(told), pulse: reveal, silent }, begun);
const site = await openSite();
const tiles = new Map(site.names.map((name) => [name, tile(name)]));
for (const one of tiles.values()) byId("tiles").append(one.item);

function tile(name) {
  const part = (tag, kind) => el(tag, { class: kind });
  const state = part("p", "state");
  const why = part("p", "why");
  const phase = part("span", "phase");
  const figures = part("span", "figures-line");
  const heard = part("p", "faint heard");
  const since = part("small", "since");
  const spark = document.createElementNS(SVG, "svg");
  spark.setAttribute("viewBox", "0 0 100 28");
  spark.setAttribute("preserveAspectRatio", "none");
  spark.setAttribute("role", "img");
  spark.setAttribute("aria-label", "Volts per cell of the last two days: nothing measured");
  const link = el("a", { href: bankPage("/", name) }, el("h2", {}, name), state, why, el("p", { class: "line" }, phase, figures), el("div", { class: "spark" }, spark, since), heard);
  return { item: el("li", { class: "tile", "data-level": "silent" }, link), state, why, phase, figures, heard, spark, since };
}

function kind(view) {
  // Behind a lost bridge nobody is heard; what was dangerous still is.
  if (stale && !(view && view.level === "hazard")) return "silent";
  if (!view || view.safe === "unknown" || view.flags.some((flag) => flag.name === "meter-silent")) return view && view.level === "hazard" ? "danger" : "silent";
  if (view.safe === "no") return "danger";
  if (view.safe === "not-yet" || view.safe === "warm") return view.safe;
  return view.level === "chore" ? "chore" : "yes";
}

const byHand = (otherwise) => (otherwise ? " by hand" : "");

function show(told) {
  views.set(told.bank, told);
  const one = tiles.get(told.bank);
  if (!one) return;
  const left = told.remaining_hours === null ? (told.phase === "idle" ? null : "hours not known") : `about ${hours(told.remaining_hours)} h`;
  say(one.phase, told.where);
  say(one.figures, [left, told.temperature === null ? null : temperature(told.temperature) + byHand(told.not_live.temperature), told.volts_per_cell === null ? null : amount(told.volts_per_cell, 2, "V/cell") + byHand(told.not_live.voltage)].filter(Boolean).join(" · "));
  arrange();
}

function arrange() {
  const now = Date.now() / 1000;
  const count = new Map();
  const order = site.names.map((name, place) => {
    const view = views.get(name);
    const what = kind(view);
    count.set(what, (count.get(what) || 0) + 1);
    const one = tiles.get(name);
    one.item.dataset.level = TONES[what];
    say(one.state, WORDS[what]);
    say(one.since, sinceWords(one.first, view));
    say(one.why, view ? reason(view, what) : "Nothing was ever heard.");
    say(one.heard, view && view.heard_at ? `heard ${moment(view.heard_at)}, ${span(Math.max(0, now - view.heard_at))} ago` : "never heard");
    return [ORDER.indexOf(what), place, name];
  });
  order.sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  const list = byId("tiles");
  // A tile is moved only where its place changes, so that focus and a reading voice stay where they are.
  order.forEach(([, , name], place) => {
    const item = tiles.get(name).item;
    if (list.children[place] !== item) list.insertBefore(item, list.children[place] || null);
  });
  say("sum", ORDER.filter((what) => count.has(what)).map((what) => `${count.get(what)} ${WORDS[what].toLowerCase()}`).join(", "));
  const worst = ORDER[order[0][0]];
  showTab({ danger: "no", "not-yet": "not-yet", silent: "unknown", warm: "warm" }[worst] || "yes", site.site);
}

function reason(view, what) {
  const flag = view.flags.find((one) => view.unsafe.includes(one.name)) || view.flags[0];
  if (what === "yes") return "";
  if (stale && what === "silent") return "The bridge is not heard.";
  if (what === "danger" && !view.unsafe.length && view.safe_why) return owned(view.safe_why);
  if (what === "silent" && view.safe === "unknown") return owned(view.standing).split(". ")[0];
  return flag ? owned(`${flag.name.replaceAll("-", " ")}${flag.reason ? `: ${flag.reason}` : ""}${besides(view, flag.name)}`) : "";
}

// What stands where the small curve would: `first` is when the volts of the last two days begin where that is late,
// null where there are none, undefined where it is not known or the line fills its place.
function sinceWords(first, view) {
  if (first === undefined) return "";
  if (first !== null) return `volts since about ${moment(first)}`;
  return view && view.volts_per_cell !== null ? "no curve yet" : "no volts in two days";
}

const LATE = 0.6; // a line that begins behind this share of the two days leaves room for words
async function showSparks() {
  const told = await need("/api/sparks", "the small curves");
  for (const [name, points] of Object.entries(told.banks)) {
    const one = tiles.get(name);
    if (!one) continue;
    one.first = points.length ? undefined : null;
    if (!points.length) continue;
    if ((points[0][0] - told.since) / (told.until - told.since) > LATE) one.first = points[0][0];
    const volts = points.map((point) => point[1]);
    const [least, greatest] = [Math.min(...volts), Math.max(...volts)];
    const high = Math.max(greatest - least, 0.1);
    const line = document.createElementNS(SVG, "polyline");
    line.classList.toggle("dot", points.length === 1);
    // A single point is drawn as a line to itself, which is a dot.
    line.setAttribute("points", [...points, points.at(-1)].map(([at, value]) => `${((100 * (at - told.since)) / (told.until - told.since)).toFixed(1)},${(26 - (24 * (value - least)) / high).toFixed(1)}`).join(" "));
    one.spark.replaceChildren(line);
    one.spark.setAttribute("aria-label", `Volts per cell of the last two days: ${least.toFixed(2)} to ${greatest.toFixed(2)}, now ${volts.at(-1).toFixed(2)}`);
  }
  arrange();
}

begin();
arrange();
setInterval(arrange, 5000);
setInterval(showSparks, 300000);
document.documentElement.dataset.ready = "yes";
await showSparks();
