// Hand readings wait here, in the browser, until the bridge has them on its disk. Each carries a key, so that one sent
// twice (an answer lost on the way) counts once.
import { moment, owned } from "./common.js";

const STORE = "revival.queue";
const RETRY = 4000;

const read = () => JSON.parse(localStorage.getItem(STORE) || "[]");
const write = (items) => localStorage.setItem(STORE, JSON.stringify(items));

export const who = {
  get token() {
    return localStorage.getItem("revival.token") || "";
  },
  get by() {
    return localStorage.getItem("revival.by") || "";
  },
  keep(by, token) {
    localStorage.setItem("revival.by", by);
    if (token) localStorage.setItem("revival.token", token);
  },
  forget() {
    localStorage.removeItem("revival.token");
  },
};

// crypto.randomUUID needs a secure context, which a page on the local network does not have.
function key() {
  return Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) => byte.toString(16).padStart(2, "0")).join("");
}

export async function post(path, body) {
  return fetch(path, { method: "POST", headers: { "content-type": "application/json", authorization: `Bearer ${who.token}` }, body: JSON.stringify(body), signal: AbortSignal.timeout(15000) });
}

export class Queue {
  constructor(changed) {
    this.changed = changed;
    this.sending = false;
    this.told = "";
    addEventListener("online", () => this.flush());
    addEventListener("storage", (event) => event.key === STORE && this.tell());
    setInterval(() => this.flush(), RETRY);
    this.tell();
  }

  add(bank, record) {
    const taken = { taken_at: Date.now() / 1000, by: who.by, key: key(), ...record };
    write([...read(), { bank, record: taken }]);
    this.tell();
    this.flush();
  }

  drop(itemKey) {
    write(read().filter((item) => item.record.key !== itemKey));
    this.tell();
  }

  // As it is, or as meant where the rules asked back.
  again(itemKey, meant = {}) {
    write(read().map((item) => (item.record.key === itemKey ? { ...item, refused: "", record: { ...item.record, ...meant } } : item)));
    this.flush();
  }

  get waiting() {
    return read().filter((item) => !item.refused);
  }

  get refused() {
    return read().filter((item) => item.refused);
  }

  tell(words = this.told) {
    this.told = words;
    this.changed(this.waiting.length, this.refused, words);
  }

  async flush() {
    if (this.sending || !this.waiting.length) return;
    this.sending = true;
    try {
      for (const item of this.waiting) {
        if (!(await this.send(item))) break;
      }
    } finally {
      this.sending = false;
    }
  }

  // Whether to go on with the next.
  async send(item) {
    let answer;
    try {
      answer = await post(`/api/record/${encodeURIComponent(item.bank)}`, item.record);
    } catch {
      this.tell("No connection. They stay on this device and are sent once it is back.");
      return false;
    }
    if (answer.status === 200) {
      this.drop(item.record.key);
      const taken = await answer.json().catch(() => ({}));
      const said = (taken.events || []).flatMap((event) => event.cautions || []).map((words) => `${owned(words[0].toUpperCase() + words.slice(1))}.`);
      const again = (taken.events || []).find((event) => event.noted_at);
      const sent = again ? `Already noted at ${moment(again.noted_at)}, with the same values: kept once.` : "Sent, and stored by the bridge.";
      this.tell([sent, ...said].join(" "));
      return true;
    }
    if (answer.status === 202) {
      this.tell("The bridge has it, but its journal cannot store it yet; it is kept here too.");
      return false;
    }
    const told = await answer.json().catch(() => ({}));
    const why = owned(told.error || told.unsure || (told.refused || []).join("; ") || `answer ${answer.status}`);
    if (answer.status === 401 || answer.status === 403 || answer.status >= 500) {
      this.tell(answer.status === 401 ? "Waiting for the right token: see Who enters." : `Waiting: ${why}.`);
      return false;
    }
    write(read().map((one) => (one.record.key === item.record.key ? { ...one, refused: why, asked: Boolean(told.unsure), meant: told.meant } : one)));
    this.tell("");
    return true;
  }
}
