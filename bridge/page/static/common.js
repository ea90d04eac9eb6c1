// Shared by all pages: building elements from text, words for numbers and times, asking again, and the news stream.

export function el(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name === "class") element.className = value;
    else if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) element.setAttribute(name, value);
  }
  element.append(...children.filter((child) => child !== null && child !== undefined));
  return element;
}

export const byId = (id) => document.getElementById(id);

// Only what differs is touched, so that a screen reader hears changes and nothing else.
export function say(id, text) {
  const element = typeof id === "string" ? byId(id) : id;
  if (element.textContent !== text) element.textContent = text;
}

// A bank as a heading begins with it; a name that says bank already stands alone: nobody reads "Bank bank".
export function headed(bank) {
  if (bank.toLowerCase() === "bank") return "The bank";
  return /(^|[^a-z])banks?([^a-z]|$)/i.test(bank) ? bank[0].toUpperCase() + bank.slice(1) : `Bank ${bank}`;
}

// Everything in a list made anew; the focus stays at the control where it was, or goes to the one that took its place.
export function renew(list, ...children) {
  const controls = () => [...list.querySelectorAll("a, button")];
  const place = controls().indexOf(document.activeElement);
  list.replaceChildren(...children);
  const now = controls();
  if (place >= 0 && now.length) now[Math.min(place, now.length - 1)].focus();
}

export function amount(value, digits, unit) {
  return value === null || value === undefined ? "not known" : `${(Number(value.toFixed(digits)) + 0).toFixed(digits)}\u00a0${unit}`;
}

let fahrenheit = false;
export const degrees = (celsius) => (fahrenheit ? celsius * 1.8 + 32 : celsius);
export const celsius = (shown) => (fahrenheit ? (shown - 32) / 1.8 : shown);
export const degreeUnit = () => (fahrenheit ? "°F" : "°C");
export const temperature = (value) =>
  value === null || value === undefined ? "not known" : `${degrees(value).toFixed(1)}\u00a0${degreeUnit()}`;

// A difference or a rate of warming in kelvin, in the unit of this page.
export const apart = (kelvin) => (fahrenheit ? kelvin * 1.8 : kelvin);

// Sentences that the bridge tells in degrees Celsius, some with Fahrenheit in brackets, in the unit of this page.
export function owned(text) {
  const told = text.replace(/([-−]?\d+(?:\.\d+)?) K(\/h)?(?![\w/])/g, (_, kelvin, rate) => `${apart(Number(kelvin.replace("−", "-"))).toFixed(1)} ${degreeUnit()}${rate || ""}`);
  return told.replace(/\b\d{4}-\d\d-\d\dT\d\d:\d\dZ/g, (at) => moment(Date.parse(at) / 1000)).replace(/([-−]?\d+(?:\.\d+)?) degC(?: \(([-−]?\d+(?:\.\d+)?) degF\))?/g, (_, warmth, other) => {
    return fahrenheit ? `${other || inFahrenheit(warmth.replace("−", "-"))} °F` : `${warmth} °C`;
  });
}

// As every other surface of the bridge says it: a whole degree where what was rounded may have been one.
function inFahrenheit(written) {
  const digits = (written.split(".")[1] || "").length;
  const exact = degrees(Number(written));
  const whole = Math.round(exact);
  return (digits && ((whole - 32) / 1.8).toFixed(digits) === written ? whole : exact).toFixed(Math.min(digits, 1));
}

// A mark of the curve in words: what a person wrote is left as it is.
export const happened = (mark) => (mark.kind === "hand" ? mark.words : owned(mark.words));

// How many characters of an order are the order itself; what follows are its reasons, or what is done once it is done.
// Never cut inside brackets or code, nor at a comma that only parts one thing to do from the next.
const SHORTEST_ORDER = 24; // nor behind less, as "Keep the charger off", nor is a shorter rest cut off
const ENDS_ORDER = /^(?:[.:;] |, (?:then|for|so|which) )/;
export function orderLength(text) {
  let open = 0;
  let code = false;
  for (let place = 0; place < text.length - SHORTEST_ORDER; place += 1) {
    if (text[place] === "(") open += 1;
    else if (text[place] === ")") open -= 1;
    else if (text[place] === "`") code = !code;
    else if (!open && !code && place >= SHORTEST_ORDER && ENDS_ORDER.test(text.slice(place, place + 8))) return place;
  }
  return text.length;
}

// Commands of the terminal are set apart, not in the marks that a terminal needs.
export const coded = (text) => text.split("`").map((part, place) => (place % 2 ? el("code", {}, part) : part));

// Written by hand: a small device spends longer on making a formatter than on the whole page.
const DAYS = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"];
const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
const two = (value) => String(value).padStart(2, "0");
export function day(at) {
  const date = new Date(at * 1000);
  return `${DAYS[date.getDay()]} ${date.getDate()} ${MONTHS[date.getMonth()]}`;
}
export function clock(at) {
  const date = new Date(at * 1000);
  return `${two(date.getHours())}:${two(date.getMinutes())}`;
}
export function moment(at, now = Date.now() / 1000) {
  return Math.abs(now - at) < 72000 && day(at) === day(now) ? clock(at) : `${day(at)}, ${clock(at)}`;
}

// When it is thought to be done: "done Sun 08-12, likely 09:30". Nothing where no hours are known.
export function ends(told) {
  if (told.remaining_hours === null) return null;
  // Hours of charging take longer by the clock where it stands still at night.
  const stretch = told.remaining_clock_hours && told.remaining_hours ? Math.max(1, told.remaining_clock_hours / told.remaining_hours) : 1;
  const after = (left) => told.at + left * stretch * 3600;
  const [low, high] = [after(told.remaining_low), after(told.remaining_high)];
  return { low, likely: Math.min(high, Math.max(low, told.finish_at || after(told.remaining_hours))), high, stretch };
}
export function doneWords(end, now) {
  const named = (at) => (at - now < 518400 ? DAYS[new Date(at * 1000).getDay()] : day(at));
  const hour = (at) => two(new Date(at * 1000).getHours());
  const until = Math.ceil(end.high / 3600) * 3600;
  if (day(end.low) !== day(end.high)) return `done ${named(end.low)} ${hour(end.low)} to ${named(until)} ${hour(until)}, likely ${named(end.likely)} ${clock(end.likely)}`;
  return `done ${named(end.low)} ${hour(end.low)}–${hour(until) === "00" ? "24" : hour(until)}, likely ${clock(end.likely)}`;
}

export function span(seconds) {
  if (seconds < 90) return `${Math.round(seconds)} s`;
  if (seconds < 5400) return `${Math.round(seconds / 60)} min`;
  if (seconds < 172800) return `${(seconds / 3600).toFixed(seconds < 36000 ? 1 : 0)} h`;
  return `${(seconds / 86400).toFixed(1)} days`;
}

export const hours = (value) => (value < 10 ? value.toFixed(1) : value.toFixed(0));

// ---------------------------------------------------------------------------------- what the bridge is asked for

// Pauses before something is asked for again [ms]; the last one stays. An answer that takes longer than this is none.
const PAUSES = [300, 800, 2000, 4000, 8000, 15000];
const PATIENCE = 15000;
const SILENT = 15000;
const missing = new Map();
let tellNews = () => {};

export const pause = (turn) => new Promise((done) => setTimeout(done, PAUSES[Math.min(turn, PAUSES.length - 1)]));

// Once: the document, or what kept it away, in words.
export async function look(path, asked = null) {
  try {
    const answer = await (asked || fetch(path, { signal: AbortSignal.timeout(PATIENCE) }));
    if (answer.ok) return [await answer.json(), ""];
    const told = await answer.json().catch(() => ({}));
    return [null, told.error || `answer ${answer.status}`];
  } catch {
    return [null, "no connection"];
  }
}

// Until it comes; meanwhile the line at the top says what is missing.
export async function need(path, what, asked = null) {
  for (let turn = 0; ; turn += 1) {
    const [found, why] = await look(path, turn ? null : asked);
    if (found !== null) missing.delete(what);
    else missing.set(what, why);
    tellNews();
    if (found !== null) return found;
    await pause(turn);
  }
}

// A script from a wheel, which is no module: the same.
export async function needScript(name, what) {
  for (let turn = 0; ; turn += 1) {
    const src = turn ? `/static/again/${turn}/${name}` : `/static/${name}`;
    const came = await new Promise((done) => document.head.append(el("script", { src, onload: () => done(true), onerror: () => done(false) })));
    if (came) missing.delete(what);
    else missing.set(what, "no connection");
    tellNews();
    if (came) return;
    await pause(turn);
  }
}

export const bankPage = (path, name) => `${path}?bank=${encodeURIComponent(name)}`;

// The bank named in the address, else the first one; links between pages keep it.
export async function openSite() {
  const site = await need("/api/site", "the site");
  fahrenheit = site.temperature === "degF";
  site.names = Object.keys(site.banks);
  const asked = new URLSearchParams(location.search).get("bank");
  site.chosen = site.names.includes(asked) ? asked : site.names[0];
  say("site", site.site);
  for (const id of ["to-watch", "to-bench"]) {
    const link = byId(id);
    if (link) link.href = bankPage(link.getAttribute("href"), site.chosen);
  }
  const all = byId("to-all");
  if (all) all.hidden = site.names.length < 2;
  return site;
}

// The pages are kept for where there is no signal. Browsers allow it only where the page came encrypted, or on this
// very host.
export const canBeKept = () => window.isSecureContext && "serviceWorker" in navigator;
if (canBeKept()) navigator.serviceWorker.register("/worker.js").catch(() => {});

// The page is shown once it says something, and nothing on it jumps; where nothing comes, after a while as it is.
const EMPTY = 1500;
export const reveal = () => requestAnimationFrame(() => (document.documentElement.dataset.shown = "yes"));
if (navigator.onLine) setTimeout(reveal, EMPTY);
else reveal();

// ---------------------------------------------------------------------------------- what the tab says

const SAFE = { yes: "Yes", warm: "Warm", "not-yet": "Not yet", no: "No", unknown: "Not known" };
let stale = false; // nothing was heard from the bridge for a while

// What was safe when it was last heard is not known to be safe now; danger stands until something else is known.
const now = (safe) => (stale && safe !== "no" ? "unknown" : safe);
export function showAnswer(safe) {
  byId("safe").dataset.safe = now(safe);
  say("level", now(safe) === safe ? SAFE[safe] : `Not known, was ${SAFE[safe].toLowerCase()}`);
}
const answers = new Map();

// Title and picture of the tab carry the worst of what it shows; the way back to all banks says how many are not safe.
export function tab(view, name, own = true) {
  answers.set(view.bank, view.safe);
  const others = [...answers].filter(([bank, safe]) => bank !== view.bank && (safe === "no" || safe === "unknown" || safe === "not-yet")).length;
  const all = byId("to-all");
  if (all && own) say(all.querySelector(".tag"), others ? `${others} not safe` : "");
  if (own) showTab(view.safe, name);
}

let shownTab = null;
export function showTab(told, name) {
  shownTab = [told, name];
  const safe = now(told);
  const title = `${{ yes: "Safe", warm: "WARM", "not-yet": "NOT YET SAFE", no: "NOT SAFE", unknown: "Not known" }[safe]}: ${name}`;
  if (document.title !== title) document.title = title;
  const icon = byId("icon");
  const href = `/static/icon-${safe}.svg`;
  if (icon.getAttribute("href") !== href) icon.setAttribute("href", href);
}

// ---------------------------------------------------------------------------------- news

// One stream at a time. The browser mends a torn one by itself; a refused or a silent one is opened anew here.
export function listen(handlers, begun = Promise.resolve()) {
  let heard = 0;
  let opened = 0;
  let turn = 0;
  let trouble = "";
  let source = null;
  let waiting = 0;
  function open() {
    clearTimeout(waiting);
    if (source) source.close();
    opened = Date.now();
    source = new EventSource("/api/news");
    for (const name of ["bank", "hand", "pulse"]) {
      source.addEventListener(name, (message) => {
        heard = Date.now();
        turn = 0;
        const told = JSON.parse(message.data);
        if (name === "pulse") trouble = troubles(told);
        begun.then(() => handlers[name] && handlers[name](told));
        tell();
      });
    }
    source.addEventListener("open", () => handlers.open && handlers.open());
    source.addEventListener("error", () => {
      if (source.readyState === EventSource.CLOSED) again();
      tell();
    });
  }
  function again() {
    clearTimeout(waiting);
    waiting = setTimeout(open, PAUSES[Math.min(turn, PAUSES.length - 1)]);
    turn += 1;
  }
  function watch() {
    if (Date.now() - Math.max(heard, opened) > SILENT) open();
    tell();
  }
  function tell() {
    const news = byId("news");
    const silent = heard > 0 && (Date.now() - heard > SILENT || source.readyState !== EventSource.OPEN);
    const words = [];
    if (!heard) words.push("Waiting for the bridge.");
    else if (silent) words.push(`No connection to the bridge since ${clock(heard / 1000)}, ${span((Date.now() - heard) / 1000)} ago: what stands here is old.`);
    else if (trouble) words.push(trouble);
    if (missing.size) words.push(`Not here yet, asked again: ${[...missing].map(([what, why]) => `${what} (${why})`).join(", ")}.`);
    news.dataset.level = silent || trouble || missing.size ? "permit" : "safe";
    stale = silent;
    document.body.classList.toggle("stale", silent);
    if (shownTab) showTab(...shownTab);
    say(news, words.join(" ") || "Live.");
    if (handlers.silent) begun.then(() => handlers.silent(silent));
  }
  tellNews = tell;
  open();
  setInterval(watch, 1000);
  addEventListener("visibilitychange", () => document.visibilityState === "visible" && watch());
  addEventListener("pagehide", () => source.close());
  addEventListener("pageshow", (event) => event.persisted && open());
}

function troubles(pulse) {
  const found = [];
  if (!pulse.connected) found.push("The bridge has lost the broker: meters are not heard.");
  if (pulse.at - pulse.turned_at > 20) found.push("The bridge's loop stands still.");
  if (pulse.journal_degraded) found.push(`The journal stores nothing: ${pulse.journal_degraded}.`);
  if (pulse.newer_file) found.push(`${pulse.newer_file}.`);
  if (!pulse.clock_trusted) found.push("The bridge's clock is not set.");
  const database = pulse.database; // away or refusing: nothing is lost, the journal keeps what waits
  if (database && /^(unreachable|refused)$/.test(database.state))
    found.push(`The database is ${database.state}: ${database.backlog} rows wait for it in the journal.`);
  return found.join(" ");
}

// Behind the worst of it: what else is dangerous now, so that a later danger never hides behind an earlier one.
export function besides(view, worst) {
  const others = view.safe === "no" ? view.unsafe.filter((name) => name !== worst) : [];
  return others.length ? `; and ${others[0].replaceAll("-", " ")}${others.length > 1 ? ` and ${others.length - 1} more` : ""}` : "";
}
