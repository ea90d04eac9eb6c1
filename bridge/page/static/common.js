// Shared by both pages: building elements from text, words for numbers and times, and the news stream.

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

export function amount(value, digits, unit) {
  return value === null || value === undefined ? "not known" : `${value.toFixed(digits)}\u00a0${unit}`;
}

let fahrenheit = false;
export const degrees = (celsius) => (fahrenheit ? celsius * 1.8 + 32 : celsius);
export const celsius = (shown) => (fahrenheit ? (shown - 32) / 1.8 : shown);
export const degreeUnit = () => (fahrenheit ? "°F" : "°C");
export const temperature = (value) =>
  value === null || value === undefined ? "not known" : `${degrees(value).toFixed(1)}\u00a0${degreeUnit()}`;

// Sentences that the bridge tells in degrees Celsius, some with Fahrenheit in brackets, in the unit of this page.
export function owned(text) {
  return text.replace(/([-−]?\d+(?:\.\d+)?) degC(?: \(([-−]?\d+(?:\.\d+)?) degF\))?/g, (_, warmth, other) => {
    if (!fahrenheit) return `${warmth} °C`;
    return `${other || degrees(Number(warmth.replace("−", "-"))).toFixed(warmth.includes(".") ? 1 : 0)} °F`;
  });
}

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

export function span(seconds) {
  if (seconds < 90) return `${Math.round(seconds)} s`;
  if (seconds < 5400) return `${Math.round(seconds / 60)} min`;
  if (seconds < 172800) return `${(seconds / 3600).toFixed(seconds < 36000 ? 1 : 0)} h`;
  return `${(seconds / 86400).toFixed(1)} days`;
}

export const hours = (value) => (value < 10 ? value.toFixed(1) : value.toFixed(0));

// The bank named in the address, else the first one; links between pages keep it.
export async function openSite() {
  const site = await (await fetch("/api/site")).json();
  fahrenheit = site.temperature === "degF";
  const names = Object.keys(site.banks);
  const asked = new URLSearchParams(location.search).get("bank");
  site.chosen = names.includes(asked) ? asked : names[0];
  say("site", site.site);
  document.title = `${site.chosen}, ${site.site}`;
  for (const id of ["to-watch", "to-bench"]) {
    const link = byId(id);
    link.href = `${link.getAttribute("href")}?bank=${encodeURIComponent(site.chosen)}`;
  }
  if (names.length > 1) {
    for (const name of names) {
      const link = el("a", { href: `${location.pathname}?bank=${encodeURIComponent(name)}` }, name, el("span", { class: "tag" }));
      if (name === site.chosen) link.setAttribute("aria-current", "true");
      link.dataset.bank = name;
      byId("banks").append(link);
    }
  }
  return site;
}

export function tagBank(view, words) {
  for (const link of byId("banks").children) {
    if (link.dataset.bank !== view.bank) continue;
    link.dataset.level = view.level;
    say(link.querySelector(".tag"), words);
  }
}

const SILENT = 15000;

// One stream; the browser reconnects by itself, and the person is told while there is none.
export function listen(handlers, begun = Promise.resolve()) {
  let heard = 0;
  let trouble = "";
  const source = new EventSource("/api/news");
  for (const name of ["bank", "hand", "pulse"]) {
    source.addEventListener(name, (message) => {
      heard = Date.now();
      const told = JSON.parse(message.data);
      if (name === "pulse") trouble = troubles(told);
      begun.then(() => handlers[name] && handlers[name](told));
      tell();
    });
  }
  source.addEventListener("open", () => handlers.open && handlers.open());
  source.addEventListener("error", tell);
  function tell() {
    const news = byId("news");
    const silent = Date.now() - heard > SILENT || (source.readyState !== EventSource.OPEN && heard > 0);
    let words = trouble;
    if (!heard) words = "Waiting for the bridge.";
    else if (silent) words = `No connection to the bridge since ${clock(heard / 1000)}: what stands here is old.`;
    news.dataset.level = silent || trouble ? "permit" : "safe";
    document.body.classList.toggle("stale", silent);
    say(news, words || "Live.");
    if (handlers.silent) handlers.silent(silent);
  }
  setInterval(tell, 1000);
  addEventListener("pagehide", () => source.close());
}

function troubles(pulse) {
  const found = [];
  if (!pulse.connected) found.push("The bridge has lost the broker: meters are not heard.");
  if (pulse.at - pulse.turned_at > 20) found.push("The bridge's loop stands still.");
  if (pulse.journal_degraded) found.push(`The journal stores nothing: ${pulse.journal_degraded}.`);
  if (!pulse.clock_trusted) found.push("The bridge's clock is not set.");
  return found.join(" ");
}
