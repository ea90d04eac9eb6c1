// The revival curve: four charts over one time axis, phases and events behind them, the estimate's fan ahead.
import { byId, clock, day, degrees, degreeUnit, doneWords, el, ends, happened, look, moment, need, say } from "./common.js";

const HOUR = 3600000;
// The nearest that is looked at [ms], and so much of the width at least is left for what lies ahead.
const NEAREST = 60000;
const AHEAD = 0.12;
// Nothing for so many of a meter's own steps, and for so long [ms], and its line is broken.
const STEPS = 3.5;
const SHORTEST_GAP = 90000;
// Colours and hatchings are asked for often while drawing: kept until the colour scheme changes.
const colours = new Map();
const hatchings = new Map();

function colour(name) {
  if (!colours.has(name)) colours.set(name, getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim());
  return colours.get(name);
}

// As the chart library reads it at once; anything else it looks up by putting an element on the page, at every drawing.
const plain = (hex) => `rgb(${[1, 3, 5].map((place) => parseInt(hex.slice(place, place + 2), 16)).join(",")})`;

function hatch(context, stroke, wide) {
  const name = `${stroke}${wide}`;
  if (!hatchings.has(name)) hatchings.set(name, hatched(context, stroke, wide));
  return hatchings.get(name);
}

function hatched(context, stroke, wide) {
  const tile = document.createElement("canvas");
  tile.width = tile.height = wide ? 10 : 6;
  const pen = tile.getContext("2d");
  pen.strokeStyle = stroke;
  pen.lineWidth = 1;
  pen.beginPath();
  pen.moveTo(0, tile.height);
  pen.lineTo(tile.width, 0);
  pen.stroke();
  return context.createPattern(tile, "repeat");
}

const DASHES = [[7, 3], [3, 3], [1, 3], [9, 3, 2, 3]];

export class Curve {
  constructor(site, bank, onMarks, view) {
    // Legend and annotations would set styles in ways that the page's policy forbids; nothing here uses them.
    Dygraph.PLUGINS = Dygraph.PLUGINS.filter((one) => one !== Dygraph.Plugins.Legend && one !== Dygraph.Plugins.Annotations);
    this.site = site;
    this.bank = bank;
    this.onMarks = onMarks;
    this.told = null;
    this.view = view; // the newest state: where now is, and how long it is still thought to take
    this.window = null;
    this.chosen = "round";
    this.busy = false;
    this.turn = 0; // of what was asked for last
    this.rounds = []; // earlier ones, drawn over the present one
    this.refetch = 0;
    this.drawnAt = 0;
    this.toldAt = 0; // when the journal was last asked
    this.sign = "";
    this.box = byId("charts");
    this.panels = [
      { id: "voltage", title: "V per cell", height: 190, digits: 3 },
      { id: "current", title: "A", height: 110, digits: 1 },
      { id: "temperature", title: degreeUnit(), height: 110, digits: 1 },
      { id: "estimate", title: "h left", height: 110, digits: 1 },
    ];
    this.buttons();
    byId("as-table").addEventListener("toggle", () => this.told && this.table());
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
      colours.clear();
      hatchings.clear();
      this.rebuild();
    });
  }

  buttons() {
    const tool = (name, label, act) => el("button", { type: "button", "aria-label": label, title: label, onclick: act }, name);
    const stretch = (name, key, length) => {
      const button = tool(name, `Show ${length ? name : "whole round"}`, () => (length ? this.last(length, key) : this.whole()));
      button.dataset.stretch = key;
      return button;
    };
    byId("tools").replaceChildren(
      el(
        "div",
        { class: "stretches" },
        stretch("round", "round", 0),
        stretch("3 days", "3d", 72),
        stretch("1 day", "1d", 24),
        stretch("6 hours", "6h", 6),
        stretch("1 hour", "1h", 1),
      ),
      el(
        "div",
        { class: "moves" },
        tool("←", "Earlier", () => this.move(-0.5, 1)),
        tool("→", "Later", () => this.move(0.5, 1)),
        tool("+", "Zoom in", () => this.move(0, 0.5)),
        tool("−", "Zoom out", () => this.move(0, 2)),
      ),
      (this.over = el("button", { type: "button", "aria-pressed": "false", onclick: () => this.overlay() }, "earlier rounds")),
    );
  }

  // Earlier rounds of this bank, laid over the present one by the hours since each began.
  async overlay() {
    if (this.rounds.length) this.rounds = [];
    else {
      this.rounds = (await need(`/api/rounds/${encodeURIComponent(this.site.chosen)}`, "the earlier rounds")).rounds;
      if (!this.rounds.length) say("readout", "This is the first round of this bank that the journal knows.");
      else if (!this.told.began) say("readout", "No round is under way that they could be laid over.");
    }
    this.over.setAttribute("aria-pressed", String(this.rounds.length > 0));
    this.key();
    this.draw();
  }

  // Moments [ms] and values of a panel's line in an earlier round, moved to where the present one began.
  shifted(round, number) {
    const began = this.told.began;
    if (!began || number > 2) return [];
    return round.points.filter((point) => point[number + 1] !== null).map((point) => [(began + point[0]) * 1000, number === 2 ? degrees(point[3]) : point[number + 1]]);
  }

  press(key) {
    this.chosen = key;
    for (const button of byId("tools").querySelectorAll("[data-stretch]")) {
      button.setAttribute("aria-pressed", String(button.dataset.stretch === key));
    }
  }

  // ------------------------------------------------------------------ what is shown

  async whole(asked) {
    this.press("round");
    if (!(await this.keep(need(this.path(""), "the curve", asked)))) return;
    // Where no round was begun, from the first that was heard.
    const [first] = this.told.points;
    const from = this.told.began || !first ? this.told.since : Math.max(this.told.since, first[0] - 600);
    const past = (this.told.until - from) * 1000;
    const ahead = this.ahead();
    this.show([from * 1000, this.told.until * 1000 + (ahead && Math.max(AHEAD * past, Math.min(ahead, past / 2 + 2 * HOUR)))]);
    this.tell();
  }

  async last(length, key) {
    this.press(key);
    const end = (this.view ? this.view.at : Date.now() / 1000) * 1000;
    const start = end - length * HOUR;
    if (!(await this.keep(need(this.path(`?since=${start / 1000}&until=${end / 1000}`), "the curve")))) return;
    this.show([start, end + Math.min(this.ahead(), (length * HOUR) / 6)]);
    this.tell();
  }

  now() {
    return (this.view ? this.view.at : Date.now() / 1000) * 1000;
  }

  end() {
    return this.view ? ends(this.view) : null;
  }

  ahead() {
    const end = this.end();
    return end ? end.high * 1000 - this.now() : 0;
  }

  // How far one may go: from the first that is known to what lies ahead; never nearer than a minute.
  bounded([from, to]) {
    const first = Math.min(this.told.first, this.told.since) * 1000;
    const last = Math.max(this.now() + Math.max(this.ahead(), AHEAD * (to - from)), this.told.until * 1000);
    const width = Math.min(last - first, Math.max(NEAREST, to - from));
    const start = Math.min(last - width, Math.max(first, (from + to) / 2 - width / 2));
    const near = (one, other) => Math.abs(one - other) < width / 1000;
    const at = { Earlier: near(start, first), Later: near(start + width, last), "Zoom in": width <= NEAREST, "Zoom out": near(width, last - first) };
    for (const [name, ended] of Object.entries(at)) byId("tools").querySelector(`[aria-label="${name}"]`).setAttribute("aria-disabled", String(ended));
    return [start, start + width];
  }

  move(shift, zoom) {
    if (!this.window) return;
    const [from, to] = this.window;
    const width = to - from;
    const middle = (from + to) / 2 + shift * width;
    this.press("");
    this.show([middle - (width * zoom) / 2, middle + (width * zoom) / 2]);
    this.later();
  }

  // Finer or further readings for what is now in the window, a moment after the last movement.
  later(wait = 250) {
    clearTimeout(this.refetch);
    this.refetch = setTimeout(async () => {
      if (!this.window) return;
      const { turn } = this;
      const [from, to] = this.window;
      const margin = (to - from) / 4;
      const now = (this.view ? this.view.at : Date.now() / 1000) + 1;
      const until = Math.min(now, (to + margin) / 1000);
      const since = Math.min((from - margin) / 1000, until - 60);
      // Asked once: what is drawn stays, and the next movement or minute asks again.
      const [told] = await look(this.path(`?since=${since}&until=${until}`));
      if (!told || turn !== this.turn) return;
      this.told = told;
      this.toldAt = told.until;
      this.draw();
      this.tell();
    }, wait);
  }

  path(query) {
    return `/api/curve/${encodeURIComponent(this.site.chosen)}${query}`;
  }

  // Whether it is still wanted once it is here: somebody may have asked for another stretch meanwhile.
  async keep(coming) {
    this.turn += 1;
    const { turn } = this;
    const told = await coming;
    if (turn !== this.turn) return false;
    this.told = told;
    this.toldAt = told.until;
    return true;
  }

  live(view) {
    this.view = view;
    if (!this.told || !this.window) return;
    const points = this.told.points;
    const last = points.length ? points.at(-1)[0] : 0;
    const following = this.window[1] >= this.told.until * 1000 - 1000;
    if (following && view.at - last >= this.told.width / 2) {
      const three = (value) => (value === null ? [null, null, null] : [value, value, value]);
      points.push([view.at, three(view.volts_per_cell), three(view.current), three(view.temperature)]);
      const phases = this.told.phases;
      const now = phases.at(-1);
      if (now && now.phase === view.phase && now.interrupted === view.interrupted) now.to = view.at;
      else phases.push({ from: view.at, to: view.at, phase: view.phase, interrupted: view.interrupted });
      const step = view.at - this.told.until;
      this.told.until = view.at;
      if (this.chosen && step > 0) this.window = [this.window[0] + (this.chosen === "round" ? 0 : step * 1000), this.window[1] + step * 1000];
    }
    if (Date.now() - this.drawnAt > 950) this.draw();
    // What happened, the estimate as it went, and points at the present width come from the journal.
    const sign = [view.phase, view.interrupted, view.relay, view.tripped, view.lock.needs_resume].join();
    if (following && ((this.sign && sign !== this.sign) || view.at - this.toldAt > Math.max(60, 10 * this.told.width))) this.later(2000);
    this.sign = sign;
  }

  show(window) {
    this.window = this.bounded(window);
    if (!this.panels[0].graph) this.rebuild();
    else this.draw();
  }

  // The same in words, after it is drawn.
  tell() {
    this.onMarks(this.told.marks);
    this.describe();
  }

  // ------------------------------------------------------------------ drawing

  series(number) {
    const none = [null, null, null];
    if (number === 3) {
      const rows = this.told.estimates.map(([at, low, middle, high]) => [new Date(at * 1000), middle === null ? none : [low, middle, high]]);
      const end = this.end();
      if (end) {
        const { remaining_low: low, remaining_hours: middle, remaining_high: high } = this.view;
        for (let step = 0; step <= 24; step += 1) {
          const gone = (high * step) / 24;
          rows.push([new Date(this.now() + gone * end.stretch * HOUR), [low, middle, high].map((value) => Math.max(0, value - gone))]);
        }
      }
      return rows.length ? rows : [[new Date(this.told.until * 1000), none]];
    }
    const convert = number === 2 ? (value) => (value === null ? null : degrees(value)) : (value) => value;
    // A meter that speaks every ten minutes is a line as well: only what is missing by its own pace breaks it.
    const known = this.told.points.filter((point) => point[number + 1][1] !== null).map((point) => [point[0] * 1000, point[number + 1].map(convert)]);
    const steps = known.slice(1).map(([at], place) => at - known[place][0]).sort((a, b) => a - b);
    const longest = Math.max(SHORTEST_GAP, STEPS * Math.max(1000 * this.told.width, steps[steps.length >> 1] || 0));
    const rows = [];
    for (const [at, values] of known) {
      const before = rows.length ? rows.at(-1)[0].getTime() : at;
      if (at - before > longest) rows.push([new Date(before + 1), none]);
      rows.push([new Date(at), values]);
    }
    return rows.length ? rows : [[new Date(this.told.until * 1000), none]];
  }

  valueRange(number, series) {
    let least = Infinity;
    let greatest = -Infinity;
    const [from, to] = this.window;
    for (const [at, [low, , high]] of series) {
      if (low === null || at < from || at > to) continue;
      least = Math.min(least, low);
      greatest = Math.max(greatest, high);
    }
    for (const round of this.rounds) {
      for (const [at, value] of this.shifted(round, number)) {
        if (at < from || at > to) continue;
        least = Math.min(least, value);
        greatest = Math.max(greatest, value);
      }
    }
    if (least === Infinity) return number === 0 ? [1.9, 2.8] : [0, 1];
    if (number === 0 && this.view) greatest = Math.max(greatest, this.view.hold_band[1]);
    if (number === 1 || number === 3) least = Math.min(0, least);
    if (number === 2) greatest = Math.max(greatest, degrees(this.bank.warm));
    const room = Math.max(greatest - least, number === 0 ? 0.1 : 1) * 0.08;
    const head = number === 0 ? 2.5 * room : room; // the names of the phases stand there
    return [number === 1 || number === 3 ? least - (least < 0 ? room : 0) : least - room, greatest + head];
  }

  rebuild() {
    if (!this.told || !this.window) return;
    this.box.replaceChildren();
    this.panels.forEach((panel, number) => {
      if (panel.graph) panel.graph.destroy();
      const place = el("div", { class: "panel" });
      place.style.height = `${panel.height + (number === 3 ? 22 : 0)}px`;
      this.box.append(el("div", { class: "panel-row" }, el("span", { class: "panel-title" }, panel.title), place));
      const ink = plain(colour(panel.id));
      const series = this.series(number);
      panel.graph = new Dygraph(place, series, {
        labels: ["time", panel.title],
        colors: [ink],
        customBars: true,
        fillAlpha: 0.25,
        strokeWidth: 1.6,
        strokePattern: number === 2 ? [6, 3] : null,
        drawPoints: false,
        dateWindow: this.window,
        valueRange: this.valueRange(number, series),
        axisLabelFontSize: 12,
        axisLineColor: colour("line"),
        gridLineColor: "rgba(128,128,128,.22)",
        axes: {
          x: { drawAxis: number === 3, axisLabelFormatter: axisTime, pixelsPerLabel: this.box.clientWidth < 600 ? 48 : 70 },
          y: { axisLabelWidth: 44, pixelsPerLabel: 28 },
        },
        xAxisHeight: number === 3 ? 22 : 2,
        rightGap: 4,
        interactionModel: interaction(() => this.whole()),
        underlayCallback: (context, area, graph) => this.underlay(context, area, graph, number),
        drawCallback: (graph, initial) => !initial && this.follow(graph),
        highlightCallback: (event, x) => this.read(x),
        unhighlightCallback: () => this.read(null),
      });
    });
    this.cross = el("i", { class: "cross", hidden: true });
    this.box.append(this.cross);
    this.key();
    this.drawnAt = Date.now();
  }

  draw() {
    this.drawnAt = Date.now();
    this.busy = true;
    this.panels.forEach((panel, number) => {
      const series = this.series(number);
      panel.graph.updateOptions({ file: series, dateWindow: this.window, valueRange: this.valueRange(number, series) });
    });
    this.busy = false;
  }

  // One panel was zoomed or moved by hand: the others go along.
  follow(graph) {
    if (this.busy) return;
    const range = graph.xAxisRange();
    if (range[0] === this.window[0] && range[1] === this.window[1]) return;
    this.window = this.bounded(range);
    this.press("");
    this.draw();
    this.later();
  }

  underlay(context, area, graph, number) {
    const x = (at) => Math.min(area.x + area.w, Math.max(area.x, graph.toDomXCoord(at * 1000)));
    context.save();
    context.beginPath();
    context.rect(area.x, area.y, area.w, area.h);
    context.clip();
    context.font = "12px system-ui, sans-serif";
    context.textBaseline = "top";
    let named = "";
    for (const stretch of this.told.phases) {
      const left = x(stretch.from);
      const width = x(stretch.to) - left;
      if (width <= 0) continue;
      context.globalAlpha = 0.2;
      context.fillStyle = colour(`phase-${stretch.phase}`);
      context.fillRect(left, area.y, width, area.h);
      context.globalAlpha = 0.55;
      if (stretch.interrupted) {
        context.fillStyle = hatch(context, colour("faint"), false);
        context.fillRect(left, area.y, width, area.h);
      }
      context.globalAlpha = 1;
      context.fillStyle = colour("line");
      context.fillRect(left, area.y, 1, area.h);
      if (number === 0 && stretch.phase !== named && width > context.measureText(stretch.phase).width + 8) {
        this.words(context, stretch.phase, left + 4, area.y + 3);
        named = stretch.phase;
      }
    }
    this.before(context, area, graph, number);
    this.fan(context, area, graph, x, number);
    if (number === 0 && this.view) this.band(context, area, graph, ...this.view.hold_band, `hold band from ${this.view.hold_band[0].toFixed(2)}`);
    if (number === 0) this.level(context, area, graph, this.bank.ceiling, "limit");
    if (number === 2) {
      this.level(context, area, graph, degrees(this.bank.warm), "warm");
      this.level(context, area, graph, degrees(this.bank.hot), "stops");
    }
    if (number === 0 || number === 1) this.marks(context, area, x, number);
    const now = x(this.view ? this.view.at : this.told.until);
    if (now < area.x + area.w - 1) {
      context.fillStyle = hatch(context, colour("line"), true);
      context.globalAlpha = 0.35;
      context.fillRect(now, area.y, area.x + area.w - now, area.h);
      context.globalAlpha = 1;
      this.rule(context, area, now, "ink", [2, 2]);
    }
    const end = this.end();
    if (end && number === 0 && this.window[1] > this.now()) this.plate(context, area, doneWords(end, this.now() / 1000), area.y + 18);
    context.restore();
  }

  // Words with a rim of the ground around each letter: no line runs through them.
  words(context, text, left, top) {
    context.strokeStyle = colour("panel");
    context.lineWidth = 3;
    context.lineJoin = "round";
    context.strokeText(text, left, top);
    context.lineWidth = 1;
    context.fillStyle = colour("ink");
    context.fillText(text, left, top);
  }

  // Words at the right edge, on a ground of their own: whatever is drawn behind them.
  plate(context, area, words, top) {
    const { width } = context.measureText(words);
    const left = area.x + area.w - width - 6;
    context.fillStyle = colour("panel");
    context.fillRect(left - 3, top - 1, width + 6, 15);
    context.fillStyle = colour("ink");
    context.fillText(words, left, top);
  }

  // Earlier rounds as thin lines behind the present one, the newest strongest; their key tells them apart by dashes.
  before(context, area, graph, number) {
    this.rounds.forEach((round, place) => {
      context.strokeStyle = colour(this.panels[number].id);
      context.globalAlpha = 0.75;
      context.setLineDash(DASHES[place]);
      context.beginPath();
      for (const [at, value] of this.shifted(round, number)) context.lineTo(graph.toDomXCoord(at), graph.toDomYCoord(value));
      context.stroke();
    });
    context.setLineDash([]);
    context.globalAlpha = 1;
  }

  // Where it ends: from now the fan opens to the earliest and the latest end, in volts to the hold band, in temperature
  // to what the last day saw.
  fan(context, area, graph, x, number) {
    const end = this.end();
    if (!end || number === 1 || number === 3) return;
    const [from, early, likely, late] = [this.now() / 1000, end.low, end.likely, end.high].map(x);
    const last = this.told.points.filter((point) => point[number + 1][1] !== null && point[0] > this.now() / 1000 - 86400).map((point) => point[number + 1]);
    if (!last.length) return;
    const warmth = (values, pick) => degrees(pick(...values));
    const [low, high] = number === 0 ? this.view.hold_band : [warmth(last.map((one) => one[0]), Math.min), warmth(last.map((one) => one[2]), Math.max)];
    const begin = number === 0 ? last.at(-1)[1] : degrees(last.at(-1)[1]);
    const y = (value) => graph.toDomYCoord(value);
    context.fillStyle = colour("estimate");
    context.globalAlpha = 0.3;
    context.beginPath();
    for (const [place, value] of [[from, begin], [early, high], [late, high], [late, low], [early, low]]) context.lineTo(place, y(value));
    context.fill();
    context.globalAlpha = 0.12;
    context.fillRect(early, area.y, Math.max(2, late - early), area.h);
    context.globalAlpha = 1;
    if (likely < area.x + area.w - 1) this.rule(context, area, likely, "estimate", [6, 3]);
  }

  band(context, area, graph, low, high, words) {
    const top = graph.toDomYCoord(high);
    const bottom = graph.toDomYCoord(low);
    if (top > area.y + area.h || bottom < area.y) {
      this.beyond(context, area, words, top > area.y + area.h);
      return;
    }
    context.strokeStyle = colour("phase-holding");
    context.setLineDash([5, 4]);
    context.strokeRect(area.x - 2, top, area.w + 4, bottom - top);
    context.setLineDash([]);
    context.fillStyle = colour("phase-holding");
    context.globalAlpha = 0.16;
    context.fillRect(area.x, top, area.w, bottom - top);
    context.globalAlpha = 1;
    this.words(context, words, area.x + 4, Math.min(bottom + 3, area.y + area.h - 15));
  }

  level(context, area, graph, value, words) {
    const y = graph.toDomYCoord(value);
    const told = `${words} ${value.toFixed(value < 10 ? 2 : 0)}`;
    if (y < area.y || y > area.y + area.h) {
      this.beyond(context, area, told, y > area.y);
      return;
    }
    context.strokeStyle = colour("hazard");
    context.setLineDash([3, 3]);
    context.beginPath();
    context.moveTo(area.x, y);
    context.lineTo(area.x + area.w, y);
    context.stroke();
    context.setLineDash([]);
    this.words(context, told, area.x + 4, y + 1);
  }

  // Beyond the window: named at the edge behind which it lies.
  beyond(context, area, words, below) {
    const told = `${words} ${below ? "↓" : "↑"}`;
    if (below) this.plate(context, { ...area, w: area.w / 2 }, told, area.y + area.h - 16);
    else this.plate(context, area, told, area.y + 3);
  }

  rule(context, area, at, ink, dash) {
    const place = Math.round(at) + 0.5; // one clear line of pixels
    context.strokeStyle = colour(ink);
    context.setLineDash(dash);
    context.beginPath();
    context.moveTo(place, area.y);
    context.lineTo(place, area.y + area.h);
    context.stroke();
    context.setLineDash([]);
  }

  marks(context, area, x, number) {
    let taken = -Infinity;
    for (const mark of this.told.marks) {
      const place = x(mark.at);
      if (place <= area.x || place >= area.x + area.w) continue;
      const trip = mark.kind === "trip";
      if (trip) this.rule(context, area, place, "hazard", []);
      if (number !== 0) continue;
      const base = area.y + area.h;
      context.fillStyle = colour(trip ? "hazard" : "ink");
      context.beginPath();
      if (mark.kind === "hand") context.arc(place, base - 5, 3.5, 0, 7);
      else {
        context.moveTo(place, base - 9);
        context.lineTo(place + 4, base - 1);
        context.lineTo(place - 4, base - 1);
      }
      context.fill();
      const words = trip ? "trip" : mark.kind === "command" ? mark.words.split(" ")[0] : "";
      if (words && place > taken) {
        const width = context.measureText(words).width;
        const ink = context.fillStyle;
        context.fillStyle = colour("panel");
        context.fillRect(place + 3, base - 25, width + 4, 14);
        context.fillStyle = ink;
        context.fillText(words, place + 5, base - 24);
        taken = place + width + 10;
      }
    }
  }

  // ------------------------------------------------------------------ words

  key() {
    const shown = [...new Set(this.told.phases.map((stretch) => stretch.phase))];
    const item = (kind, words) => el("li", {}, el("span", { class: `swatch ${kind}` }), words);
    byId("key").replaceChildren(
      ...shown.map((phase) => item(`p-${phase}`, phase)),
      item("still", "charging stands still"),
      item("dot", "hand reading"),
      item("wedge", "something done or seen"),
      ...this.rounds.map((round, place) => item(`over over-${place}`, `round of ${day(round.began)} ${new Date(round.began * 1000).getFullYear()}, ${Math.round((round.ended - round.began) / 3600)} h`)),
    );
  }

  // One line through all panels where the pointer is.
  point(x) {
    this.cross.hidden = x === null;
    if (x === null) return;
    const { graph } = this.panels[0];
    const left = this.box.querySelector(".panel").getBoundingClientRect().left - this.box.getBoundingClientRect().left;
    this.cross.style.left = `${left + graph.toDomXCoord(x) - this.box.clientLeft}px`;
  }

  read(x) {
    this.point(x);
    if (x === null) return;
    const at = x / 1000;
    const point = this.told.points.reduce((best, one) => (Math.abs(one[0] - at) < Math.abs(best[0] - at) ? one : best), this.told.points[0]);
    if (!point) return;
    const [volts, amps, heat] = [point[1][1], point[2][1], point[3][1]];
    const phase = this.told.phases.find((stretch) => stretch.from <= at && at <= stretch.to);
    const near = (this.window[1] - this.window[0]) / 1000 / 150;
    const mark = this.told.marks.findLast((one) => Math.abs(one.at - at) < near);
    const words = [
      `${day(at)}, ${clock(at)}`,
      volts === null ? null : `${volts.toFixed(3)} V per cell`,
      amps === null ? null : `${amps.toFixed(1)} A`,
      heat === null ? null : `${degrees(heat).toFixed(1)} ${degreeUnit()}`,
      phase ? phase.phase + (phase.interrupted ? ", standing still" : "") : null,
      mark ? `${clock(mark.at)} ${happened(mark)}` : null,
      this.told.began && at > this.told.began ? `hour ${((at - this.told.began) / 3600).toFixed(1)}` : null,
      ...this.rounds.map((round) => this.then(round, x)),
    ];
    say("readout", words.filter(Boolean).join("   "));
  }

  // What an earlier round read in the same hour.
  then(round, x) {
    const line = this.shifted(round, 0);
    const near = line.find(([at]) => at >= x);
    return near ? `${day(round.began)} then ${near[1].toFixed(3)} V` : null;
  }

  describe() {
    const end = this.end();
    const points = this.told.points.filter((point) => point[1][1] !== null);
    const spoken = points.length
      ? `Volts per cell, amps, temperature and hours left from ${moment(this.told.since)} to ${moment(this.told.until)}. ` +
        `Volts per cell from ${Math.min(...points.map((point) => point[1][0])).toFixed(2)} to ${Math.max(...points.map((point) => point[1][2])).toFixed(2)}. ` +
        `Phases: ${[...new Set(this.told.phases.map((stretch) => stretch.phase))].join(", ") || "none"}. ${end ? `Ahead: ${doneWords(end, this.now() / 1000)}. ` : ""}The table below holds the same.`
      : "No readings in this stretch.";
    this.box.setAttribute("aria-label", spoken);
    this.table();
  }

  // Made only for those who look at it.
  table() {
    if (!byId("as-table").open) return;
    const every = Math.max(1, Math.ceil(this.told.points.length / 48));
    const rows = this.told.points.filter((_, number) => number % every === 0);
    const cell = (value, digits) => el("td", {}, value === null ? "–" : value.toFixed(digits).replace(/^-(0\.?0*)$/, "$1").replace("-", "−"));
    byId("table").replaceChildren(
      el(
        "table",
        {},
        el("thead", {}, el("tr", {}, ...["time", "V per cell", "A", degreeUnit()].map((name) => el("th", { scope: "col" }, name)))),
        el(
          "tbody",
          {},
          ...rows.map((row) =>
            el("tr", {}, el("th", { scope: "row" }, moment(row[0])), cell(row[1][1], 3), cell(row[2][1], 1), cell(row[3][1] === null ? null : degrees(row[3][1]), 1)),
          ),
        ),
      ),
    );
  }
}

function axisTime(date, granularity) {
  const at = date.getTime() / 1000;
  if (granularity >= Dygraph.DAILY || (date.getHours() === 0 && date.getMinutes() === 0)) return day(at).replace(/^\S+ /, "");
  return clock(at);
}

// One finger scrolls the page; two fingers zoom and move the chart; twice tapped, it shows the round again.
function interaction(whole) {
  const usual = Dygraph.Interaction.defaultModel;
  return {
    ...usual,
    dblclick: whole,
    touchstart: (event, graph, context) => event.touches.length > 1 && usual.touchstart(event, graph, context),
    touchmove: (event, graph, context) => event.touches.length > 1 && usual.touchmove(event, graph, context),
    touchend: (event, graph, context) => context.touchDirections && usual.touchend(event, graph, context),
  };
}
