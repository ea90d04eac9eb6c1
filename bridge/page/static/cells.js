// The bank as it stands: strings with their blocks, posts and links, every cell coloured by what it reads.
import { byId, degrees, degreeUnit, el, moment, renew, say, span, temperature } from "./common.js";

const WEAKEST = 1.0; // a bar of this height [gravity] is empty: water
const SHADED = 0.08; // over so much below full [gravity] the shade goes from pale to dark
const HEADROOM = 0.02; // and this much above what a full cell reads it ends
const SHOWS = { gravity: "gravity", volts: "volts", warmth: "temperature" };

const middleOf = (values) => {
  const sorted = [...values].sort((a, b) => a - b);
  const half = sorted.length >> 1;
  return sorted.length % 2 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
};

export class Cells {
  constructor(site, bank) {
    Object.assign(this, { site, bank, shown: "gravity", hand: null, view: null, drawn: "" });
    byId("cells").style.setProperty("--full", `${(100 * (bank.full_gravity - WEAKEST)) / (bank.full_gravity + HEADROOM - WEAKEST)}%`);
    for (const [key, words] of Object.entries(SHOWS)) {
      byId("cells-tools").append(el("button", { type: "button", "aria-pressed": String(key === this.shown), "data-shows": key, onclick: () => this.choose(key) }, words));
    }
  }

  choose(key) {
    this.shown = key;
    for (const button of byId("cells-tools").children) button.setAttribute("aria-pressed", String(button.dataset.shows === key));
    this.draw();
  }

  take(hand, view) {
    if (hand) this.hand = hand;
    if (view) this.view = view;
    if (this.hand) this.draw();
  }

  // ------------------------------------------------------------------ what each cell reads

  // {cell: {value, words, at, note, mark}} of the quantity that is shown; value is null where it is off the instrument.
  readings() {
    const found = new Map();
    if (this.shown === "gravity") {
      for (const [cell, rows] of Object.entries(this.hand.cells)) {
        const [at, value, mark, uncorrected] = rows.at(-1);
        const change = rows.length > 1 && rows.at(-2)[1] !== null && value !== null ? Math.round((value - rows.at(-2)[1]) * 1000) : 0;
        if (mark === "none") continue;
        found.set(cell, { value, mark, at, change, words: value === null ? mark : value.toFixed(3), note: uncorrected ? "uncorrected" : "" });
      }
      return found;
    }
    const volts = this.shown === "volts";
    const metered = this.view ? this.view.placed[this.shown] : {};
    for (const block of this.bank.strings.flat()) {
      for (let number = 1; number <= block.cells; number += 1) {
        const cell = `${block.label}.${number}`;
        const whole = newest(metered[block.label], this.hand.placed[this.shown][block.label]);
        const own = newest(metered[cell], this.hand.placed[this.shown][cell]);
        const told = own || whole;
        if (!told) continue;
        const value = volts && !own ? told[0] / block.cells : told[0];
        found.set(cell, { value, at: told[1], mark: "", change: 0, words: volts ? value.toFixed(2) : degrees(value).toFixed(0), note: own ? "" : "of its block", block: own ? null : block.label });
      }
    }
    return found;
  }

  // From here on a cell stands out, both ways: the verdict's own thresholds (per cell for volts, as they are per block).
  apart(found) {
    const limit = { gravity: this.site.apart.gravity, volts: this.site.apart.volts, warmth: Infinity }[this.shown];
    const known = [...found].filter(([, one]) => one.value !== null);
    const out = new Map();
    for (const [cell, one] of found) {
      if (one.value === null) {
        out.set(cell, one.mark);
        continue;
      }
      const others = known.filter(([other, its]) => other !== cell && !(one.block && one.block === its.block)).map(([, its]) => its.value);
      if (!others.length) continue;
      const cellsOfBlock = one.block ? this.bank.strings.flat().find((block) => block.label === one.block).cells : 1;
      const away = (one.value - middleOf(others)) * cellsOfBlock;
      if (Math.abs(away) > limit + 1e-9) out.set(cell, away < 0 ? "low" : "high");
    }
    return out;
  }

  // ------------------------------------------------------------------ drawing

  draw() {
    const found = this.readings();
    const out = this.apart(found);
    const text = JSON.stringify([this.shown, [...found], [...out], this.view && [this.view.blocks.map((block) => block.string), this.view.gravity_spread, this.unmixed().length]]);
    if (text === this.drawn) return;
    this.drawn = text;
    const values = [...found.values()].filter((one) => one.value !== null).map((one) => one.value);
    const [least, greatest] = this.scale(values);
    renew(byId("cells"), ...this.groups().map(([title, blocks]) => this.string(title, blocks, found, out, least, greatest)));
    this.words(found, out, values);
    this.sheets();
  }

  scale(values) {
    if (this.shown === "gravity") return [WEAKEST, this.bank.full_gravity + HEADROOM];
    const room = this.shown === "volts" ? 0.1 : 5;
    const [low, high] = [Math.min(...values), Math.max(...values)];
    return [Math.min(low - room / 4, high - room), high + room / 4];
  }

  // Strings as the blocks are joined now; what stands aside is a group of its own.
  groups() {
    const blocks = new Map(this.bank.strings.flat().map((block) => [block.label, block]));
    const joined = this.view && this.view.blocks.length ? this.view.blocks.filter((one) => blocks.has(one.block)) : null;
    if (!joined) return this.bank.strings.map((string, number) => [this.bank.strings.length > 1 ? `String ${number + 1}` : "String", string]);
    const strings = [...new Set(joined.map((block) => block.string))].sort((a, b) => (a || 99) - (b || 99));
    const several = strings.filter(Boolean).length > 1;
    return strings.map((number) => [number ? (several ? `String ${number}` : "String") : "Stands aside", joined.filter((one) => one.string === number).map((one) => blocks.get(one.block))]);
  }

  string(title, blocks, found, out, least, greatest) {
    const post = (sign) => el("i", { class: "post", "aria-hidden": "true" }, sign);
    return el(
      "div",
      { class: "string" },
      el("h3", {}, title),
      el(
        "div",
        { class: "blocks linked" },
        ...blocks.map((block) =>
          el(
            "div",
            { class: "block" },
            el("div", { class: "posts" }, post("+"), el("h4", {}, block.label), post("−")),
            el("div", { class: "cells" }, ...Array.from({ length: block.cells }, (_, number) => this.cell(block, number + 1, found, out, least, greatest))),
          ),
        ),
      ),
    );
  }

  cell(block, number, found, out, least, greatest) {
    const name = `${block.label}.${number}`;
    const one = found.get(name);
    const away = out.get(name);
    const bar = el("span", { class: "bar", "aria-hidden": "true" }, el("i"));
    const share = !one ? 0 : one.value === null ? (one.mark === "low" ? 0.02 : 1) : Math.min(1, Math.max(0.02, (one.value - least) / (greatest - least)));
    bar.firstChild.style.height = `${100 * share}%`;
    // Height is where it stands on the whole scale; the shade tells apart what lies close together, near full.
    const shade = this.shown !== "gravity" || !one || one.value === null ? share : Math.min(1, Math.max(0, (one.value - this.bank.full_gravity + SHADED) / SHADED));
    bar.firstChild.style.setProperty("--share", `${Math.round(8 + 84 * shade)}%`);
    const words = one ? `${name}: ${one.words}${away ? `, stands out ${away}` : ""}` : `${name}: not read`;
    return el(
      "button",
      { type: "button", class: `cell${away ? " apart" : ""}${one ? "" : " empty"}`, "data-cell": one ? name : null, "data-away": away, "aria-label": words, onclick: () => this.history(name) },
      bar,
      el("b", {}, one ? one.words : "–"),
      el("small", {}, away ? `${away === "low" ? "▼" : "▲"} ${away}` : one && one.change ? el("span", { class: "change" }, `${one.change > 0 ? "+" : "−"}${Math.abs(one.change)}`) : `${number}`),
    );
  }

  words(found, out, values) {
    const cells = this.bank.strings.flat().reduce((sum, block) => sum + block.cells, 0);
    if (!found.size) {
      say("cells-words", this.shown === "gravity" ? "No gravity entered yet; the bench page takes them." : `No ${SHOWS[this.shown]} of a block or cell known yet: map a meter to it, or enter it at the bench.`);
      return;
    }
    const off = found.size - values.length;
    const said = [`${values.length} of ${cells} cells ${this.shown === "gravity" ? "read" : "known"}${off ? `, ${off} more off the instrument` : ""}.`];
    if (values.length) {
      const least = Math.min(...values);
      const where = [...found].filter(([, one]) => one.value === least).map(([cell]) => cell);
      const written = (value) => (this.shown === "gravity" ? value.toFixed(3) : this.shown === "volts" ? `${value.toFixed(2)} V` : temperature(value));
      const apart = Math.max(...values) - least;
      const spread = this.shown === "warmth" ? `${(degrees(apart) - degrees(0)).toFixed(1)} ${degreeUnit()}` : written(apart);
      said.push(this.shown === "gravity" ? this.gravities(found) : `Lowest ${written(least)} at ${where.slice(0, 4).join(", ")}, spread ${spread}.`);
    }
    if (out.size) said.push(`${out.size} stand${out.size === 1 ? "s" : ""} out (${this.shown === "gravity" ? this.site.apart.gravity.toFixed(3) : `${this.site.apart.volts} V a block`} from the middle of the others, or off the instrument).`);
    if (this.shown === "gravity") {
      const trend = this.view && this.view.gravity_trend !== null ? ` Trend ${this.view.gravity_trend >= 0 ? "+" : "−"}${Math.abs(this.view.gravity_trend).toFixed(4)} per hour.` : "";
      const loose = [...found.values()].filter((one) => one.note).length;
      said.push(`Full is ${this.bank.full_gravity.toFixed(3)} (dashed).${trend} Corrected to ${temperature(this.bank.hydrometer_reference)}${loose ? `, but ${loose} uncorrected for want of a temperature` : ""}.`);
    }
    say("cells-words", said.join(" "));
  }

  // Cells whose water is not mixed yet: what the float shows there is the water.
  unmixed() {
    return this.view ? this.view.cells.filter((row) => !row.mixed).map((row) => row.cell) : [];
  }

  // Lowest and spread as the rules make them, the same as in status and report: of one walk, and of mixed acid only.
  gravities(found) {
    const unmixed = this.unmixed();
    const known = [...found].filter(([cell, one]) => one.value !== null && !unmixed.includes(cell));
    const least = Math.min(...known.map(([, one]) => one.value));
    const where = known.filter(([, one]) => one.value === least).map(([cell]) => cell);
    const weak = [...found].filter(([cell, one]) => one.mark === "low" && !unmixed.includes(cell)).map(([cell]) => cell);
    const under = weak.length && this.view && this.view.lowest_gravity !== null ? `${weak.slice(0, 4).join(", ")} too weak to float it, so at most ${this.view.lowest_gravity.toFixed(3)}. ` : "";
    const lowest = known.length ? `${under}Lowest ${least.toFixed(3)} at ${where.slice(0, 4).join(", ")}` : `${under}Lowest not known`;
    const spread = this.view && this.view.gravity_spread !== null ? this.view.gravity_spread.toFixed(3) : "not known";
    return `${lowest}, spread ${spread}${unmixed.length ? ` (without cells whose water was not mixed yet: ${unmixed.slice(0, 4).join(", ")})` : ""}.`;
  }

  // ------------------------------------------------------------------ looking back

  history(cell) {
    const rows = (this.hand.cells[cell] || []).map(([at, value, mark, uncorrected], place, all) => {
      const before = place ? all[place - 1][1] : null;
      const change = value !== null && before !== null ? `${value >= before ? "+" : "−"}${Math.abs(Math.round((value - before) * 1000))}` : "";
      return el("tr", {}, el("th", { scope: "row" }, moment(at)), el("td", {}, value === null ? mark : value.toFixed(3)), el("td", {}, change), el("td", {}, uncorrected ? "uncorrected" : ""));
    });
    const block = cell.slice(0, cell.lastIndexOf("."));
    const newestOf = (shows) => [cell, block].map((where) => [where, newest(this.view && this.view.placed[shows][where], this.hand.placed[shows][where])]).filter(([, told]) => told);
    const beside = [...newestOf("volts").map(([where, [value, at]]) => `${where}: ${value.toFixed(2)} V, ${moment(at)}`), ...newestOf("warmth").map(([where, [value, at]]) => `${where}: ${temperature(value)}, ${moment(at)}`)];
    say("cell-title", `Cell ${cell}`);
    byId("cell-table").replaceChildren(
      ...beside.map((words) => el("p", {}, words)),
      rows.length ? el("table", {}, el("thead", {}, el("tr", {}, ...["taken", "gravity", "change", ""].map((name) => el("th", { scope: "col" }, name)))), el("tbody", {}, ...rows.reverse())) : el("p", {}, "No gravity of this cell is known."),
    );
    byId("cell").showModal();
  }

  // The newest sheets side by side: readings taken within an hour of each other are one sheet.
  sheets() {
    const times = [...new Set(Object.values(this.hand.cells).flatMap((rows) => rows.map(([at]) => at)))].sort((a, b) => a - b);
    const sheets = [];
    for (const at of times) {
      if (sheets.length && at - sheets.at(-1).to < 3600) sheets.at(-1).to = at;
      else sheets.push({ from: at, to: at });
    }
    const shown = sheets.slice(-4);
    byId("sheets").hidden = shown.length < 2;
    if (shown.length < 2) return;
    const of = (cell, sheet) => (this.hand.cells[cell] || []).filter(([at]) => at >= sheet.from && at <= sheet.to).at(-1);
    const row = (cell) => {
      const read = shown.map((sheet) => of(cell, sheet));
      const [first, last] = [read.find((one) => one && one[1] !== null), read.at(-1)];
      const change = first && last && last !== first && last[1] !== null ? Math.round((last[1] - first[1]) * 1000) : null;
      return el("tr", {}, el("th", { scope: "row" }, cell), ...read.map((one) => el("td", {}, !one ? "–" : one[1] === null ? one[2] : one[1].toFixed(3))), el("td", {}, change === null ? "–" : `${change >= 0 ? "+" : "−"}${Math.abs(change)}`));
    };
    const cells = this.bank.strings.flat().flatMap((block) => Array.from({ length: block.cells }, (_, number) => `${block.label}.${number + 1}`));
    byId("sheets-table").replaceChildren(
      el("table", {}, el("thead", {}, el("tr", {}, el("th", { scope: "col" }, "cell"), ...shown.map((sheet) => el("th", { scope: "col" }, moment(sheet.from))), el("th", { scope: "col" }, "change"))), el("tbody", {}, ...cells.map(row))),
    );
  }
}

function newest(metered, byHand) {
  if (!metered || !byHand) return metered || byHand;
  return metered[1] >= byHand[1] ? metered : byHand;
}
