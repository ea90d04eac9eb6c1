// All banks of all cabins, worst first. What a cabin wrote is put in as text only; silence is told by this clock.
"use strict";

const NEEDS = { danger: "Danger", silent: "Not heard from", unseen: "Meter not heard", "not-yet": "Not yet safe", warm: "Warm", chore: "Safe, something to do", yes: "Safe" };
const ORDER = Object.keys(NEEDS);
const KNOWN = 1; // format of the document
const AT_ONCE = 200; // banks drawn before somebody asks for more
const AGAIN = 60; // the document is read again so often [s]
const LATE = 3; // it was to be made anew this many times, and was not
const OLD = 2 * 3600; // one that is not made anew by itself is old after [s]
const BAND = 72; // hours that the bar of an estimate is wide
const TRIPS = 30 * 86400; // how far back trips count [s]

let told = null;
let failed = false;
let limit = AT_ONCE;
let wanted = "";
const open = new Set(); // banks of which somebody reads more

const byId = (id) => document.getElementById(id);
function el(tag, kind, ...children) {
  const element = document.createElement(tag);
  if (kind) element.className = kind;
  element.append(...children.filter((child) => child !== null && child !== ""));
  return element;
}
function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

const DAYS = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"];
const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
function moment(at) {
  const date = new Date(at * 1000);
  const clock = `${String(date.getHours()).padStart(2, "0")}:${String(date.getMinutes()).padStart(2, "0")}`;
  return date.toDateString() === new Date().toDateString() ? clock : `${DAYS[date.getDay()]} ${date.getDate()} ${MONTHS[date.getMonth()]}, ${clock}`;
}
function span(seconds) {
  if (seconds < 90) return `${Math.round(seconds)} s`;
  if (seconds < 5400) return `${Math.round(seconds / 60)} min`;
  if (seconds < 172800) return `${(seconds / 3600).toFixed(seconds < 36000 ? 1 : 0)} h`;
  return `${(seconds / 86400).toFixed(1)} days`;
}
const hours = (value) => (value < 10 ? value.toFixed(1) : value.toFixed(0));

// ------------------------------------------------------------------------------------------------- what a bank needs

function need(bank, now) {
  if (bank.level === "hazard") return "danger";
  if (now - bank.heard_at > told.silent_after) return "silent";
  if (bank.safe === "unknown" || bank.meter_silent) return "unseen";
  if (bank.safe === "not-yet" || bank.safe === "warm") return bank.safe;
  return bank.level === "chore" ? "chore" : "yes";
}

function missing(bank) {
  const { first, last, until } = bank.waits;
  return `Parcels with rows ${first} to ${last} of its journal have not come. What came after them waits until ${moment(until)}: look for them at ${bank.site}.`;
}

// What somebody should do, and why. A cabin that says nothing is what must be seen to before anything it once said.
function words(bank, what, now) {
  const quiet = now - bank.heard_at;
  if (quiet > told.silent_after) {
    if (bank.waits) return [missing(bank), [`when last heard: ${bank.standing}`]];
    const late = now - bank.arrived_at <= told.silent_after;
    const link = late
      ? `Catching up: parcels arrive, the newest message in them is ${span(quiet)} old.`
      : `Nothing came for ${span(now - bank.arrived_at)}: see to the link and the bridge of ${bank.site}.`;
    return what === "danger" ? [`${bank.need} ${link}`, bank.causes] : [link, [`when last heard: ${bank.standing}`]];
  }
  return [bank.need || bank.standing, what === "yes" ? [] : bank.causes.length ? bank.causes : [bank.standing]];
}

// ------------------------------------------------------------------------------------------------------------ drawing

function band(bank) {
  if (bank.remaining_hours === null) return null;
  const share = (value) => `${Math.min(100, (100 * value) / BAND)}%`;
  const low = bank.remaining_low ?? bank.remaining_hours;
  const high = bank.remaining_high ?? bank.remaining_hours;
  const stretch = el("i");
  stretch.style.left = share(low);
  stretch.style.width = `calc(${share(high)} - ${share(low)})`;
  const middle = el("b");
  middle.style.left = share(bank.remaining_hours);
  const bar = el("div", "band", stretch, middle);
  bar.setAttribute("aria-hidden", "true"); // the line above says the same
  return bar;
}

function left(bank) {
  if (bank.remaining_hours === null) return el("p", "hours faint", bank.phase === "finished" ? "" : "hours not known");
  const known = bank.remaining_low !== null && bank.remaining_high !== null;
  const within = known ? `, ${hours(bank.remaining_low)} to ${hours(bank.remaining_high)}` : "";
  return el("p", "hours", el("b", "", `${hours(bank.remaining_hours)} h`), ` left${within}`);
}

function facts(bank, now) {
  const since = bank.trips.filter((trip) => now - trip < TRIPS).length;
  const counted = since ? `${since} ${since === 1 ? "trip" : "trips"} in 30 days` : "no trips in 30 days";
  const trips = bank.tripped ? `tripped${since ? `, ${counted}` : ""}` : counted;
  const figures = [
    bank.volts_per_cell === null ? "" : `${bank.volts_per_cell.toFixed(2)}\u00a0V/cell`,
    bank.current === null ? "" : `${bank.current.toFixed(1)}\u00a0A`,
    (bank.warmth || "").replace(" ", "\u00a0"), // of a board that an earlier version wrote none is known
  ].filter(Boolean).join(" · ");
  return el(
    "div",
    "facts",
    el("p", since || bank.tripped ? "trips" : "faint", trips),
    figures ? el("p", "", figures) : null,
    el("p", "faint", `heard ${moment(bank.heard_at)}, ${span(Math.max(0, now - bank.heard_at))} ago`),
  );
}

function more(bank, reasons, name) {
  const lines = [...reasons.slice(1), ...bank.then];
  if (bank.hours_why) lines.push(`Hours: ${bank.hours_why}`);
  if (bank.waits) lines.push(missing(bank));
  if (!lines.length) return null;
  const box = el("details", "", el("summary", "", "More", el("span", "unseen", ` of ${name}`)), el("ul", "", ...lines.map((line) => el("li", "", line))));
  box.open = open.has(name);
  box.addEventListener("toggle", () => (box.open ? open.add(name) : open.delete(name)));
  return box;
}

function row(bank, what, now) {
  const name = `${bank.site} ${bank.bank}`;
  const [todo, reasons] = words(bank, what, now);
  const swatch = el("i");
  swatch.style.background = `var(--phase-${CSS.escape(bank.phase)})`;
  const item = el(
    "li",
    "bank",
    el("div", "", el("h2", "", el("small", "", bank.site), bank.bank), el("p", "state", NEEDS[what])),
    el("div", "", el("p", "need", todo), reasons.length ? el("p", "cause", reasons[0]) : null, bank.aside ? el("p", "cause", bank.aside) : null, more(bank, reasons, name)),
    el("div", "", el("p", "phase", swatch, bank.interrupted ? `${bank.where ?? bank.phase}, standing still` : bank.where ?? bank.phase), left(bank), band(bank)),
    facts(bank, now),
  );
  item.dataset.need = what;
  item.dataset.name = name;
  return item;
}

function matches(bank, what, asked) {
  const text = [bank.site, bank.bank, bank.where ?? bank.phase, bank.need, NEEDS[what], ...bank.causes].join(" ").toLowerCase();
  return asked.every((word) => text.includes(word));
}

function draw() {
  if (!told) return;
  const now = Date.now() / 1000;
  const asked = byId("words").value.toLowerCase().split(/\s+/).filter(Boolean);
  const found = told.banks.map((bank) => [ORDER.indexOf(need(bank, now)), bank]).filter(([place, bank]) => matches(bank, ORDER[place], asked));
  const counts = ORDER.map((_, place) => found.filter((one) => one[0] === place).length);
  const shown = found.filter(([place]) => !wanted || ORDER[place] === wanted);
  shown.sort((a, b) => a[0] - b[0] || a[1].heard_at - b[1].heard_at || (a[1].site + a[1].bank < b[1].site + b[1].bank ? -1 : 1));
  const held = document.activeElement.closest?.("#banks > li")?.dataset.name;
  byId("banks").replaceChildren(...shown.slice(0, limit).map(([place, bank]) => row(bank, ORDER[place], now)));
  if (held) byId("banks").querySelector(`[data-name="${CSS.escape(held)}"] summary`)?.focus({ preventScroll: true });
  byId("more").hidden = shown.length <= limit;
  chips(counts, found.length);
  const part = shown.length > limit ? `, the first ${limit} drawn` : "";
  say(byId("shown"), `${shown.length === 1 ? "1 bank" : `${shown.length} banks`} of ${told.banks.length}, worst first${part}`);
  refusals();
  age(now);
}

function chips(counts, all) {
  for (const [name, number] of [["", all], ...ORDER.map((what, place) => [what, counts[place]])]) {
    say(byId(`count-${name}`), String(number));
    const chip = byId(`chip-${name}`);
    chip.hidden = Boolean(name) && !number && wanted !== name; // whoever chose it finds the way back
  }
}

function refusals() {
  byId("refused").hidden = byId("unusable").hidden = !told.refused.length;
  if (told.refused.length) say(byId("unusable").firstChild, `Left aside: ${told.refused.length === 1 ? "1 parcel or site" : `${told.refused.length} parcels or sites`}`);
  byId("refused-list").replaceChildren(...told.refused.slice(0, AT_ONCE).map((one) => el("li", "", el("code", "", one.name), `: ${one.why}`)));
}

function age(now) {
  const seconds = Math.max(0, now - told.made_at);
  const old = seconds > (told.every ? LATE * Math.max(told.every, AGAIN) : OLD);
  const line = byId("made");
  line.toggleAttribute("data-old", old || failed);
  const why = failed ? "It could not be read again." : old ? "Is `revival fleet follow` running?" : "";
  say(line, `As of ${moment(told.made_at)}, ${span(seconds)} ago. ${why}`.trim());
}

// ------------------------------------------------------------------------------------------------------------ reading

// Called by board-data.js: a script, because a page opened from a folder may read no document.
window.takeBoard = (found) => {
  failed = false;
  if (found.format !== KNOWN) {
    failed = true;
    say(byId("made"), `The list is of format ${found.format}, known here: ${KNOWN}. Load this page again.`);
    return;
  }
  told = found;
  draw();
};

function read() {
  const script = document.createElement("script");
  script.src = `board-data.js?${Date.now()}`;
  script.addEventListener("load", () => script.remove());
  script.addEventListener("error", () => {
    script.remove();
    failed = true;
    if (told) draw();
    else say(byId("made"), "There is no list yet: `revival fleet follow` writes it.");
  });
  document.head.append(script);
}

function keep() {
  const kept = new URLSearchParams();
  if (wanted) kept.set("needs", wanted);
  if (byId("words").value) kept.set("find", byId("words").value);
  history.replaceState(null, "", `#${kept}`);
}

function begin() {
  const kept = new URLSearchParams(location.hash.slice(1));
  byId("words").value = kept.get("find") || "";
  wanted = ORDER.includes(kept.get("needs")) ? kept.get("needs") : "";
  for (const [name, label] of [["", "All"], ...Object.entries(NEEDS)]) {
    const box = el("input");
    Object.assign(box, { type: "radio", name: "needs", value: name, checked: name === wanted });
    const count = el("b");
    count.id = `count-${name}`;
    const chip = el("label", "chip", box, el("span", "", label, " ", count));
    chip.id = `chip-${name}`;
    chip.dataset.need = name;
    box.addEventListener("change", () => {
      wanted = name;
      limit = AT_ONCE;
      keep();
      draw();
    });
    byId("needs").append(chip);
  }
  byId("words").addEventListener("input", () => {
    limit = AT_ONCE;
    keep();
    draw();
  });
  byId("filter").addEventListener("submit", (event) => event.preventDefault());
  byId("more").addEventListener("click", () => {
    const place = limit;
    limit += AT_ONCE;
    draw();
    const first = byId("banks").children[place];
    first.tabIndex = -1;
    first.focus();
  });
  setInterval(read, AGAIN * 1000);
  read();
}

begin();
