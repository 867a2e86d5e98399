// The one websocket: commands out, tellings in, and coming back by itself when it is lost.

/** @typedef {import("./messages.js").Commands} Commands */
/** @typedef {import("./messages.js").Tellings} Tellings */
/** @typedef {import("./messages.js").Done} Done */

const FIRST_WAIT_MS = 400;
const LONGEST_WAIT_MS = 4000;

export class Link {
  constructor() {
    /** @type {Map<string, ((message: any) => void)[]>} */
    this.heard = new Map();
    /** @type {Map<number, {done: (answer: Done) => void, refused: (why: Error) => void}>} */
    this.asked = new Map();
    this.next = 1;
    this.wait = FIRST_WAIT_MS;
    /** @type {number | null} version that this window shows */
    this.version = null;
    /** @type {WebSocket | null} */
    this.socket = null;
    /** whether the state has come over this connection: an older one may be of a session that has ended */
    this.current = false;
    /** @type {(open: boolean) => void} */
    this.onopen = () => {};
  }

  /** Connect, and go on trying for as long as the page is there. */
  connect() {
    const scheme = location.protocol === "https:" ? "wss" : "ws";
    const socket = new WebSocket(`${scheme}://${location.host}/socket`);
    this.socket = socket;
    this.current = false;
    socket.onmessage = (event) => this.take(String(event.data));
    socket.onclose = () => {
      if (this.socket !== socket) return;
      this.socket = null;
      for (const waiting of this.asked.values()) waiting.refused(new Error("The connection was lost before this was answered."));
      this.asked.clear();
      this.onopen(false);
      setTimeout(() => this.connect(), this.wait);
      this.wait = Math.min(LONGEST_WAIT_MS, this.wait * 1.6);
    };
  }

  /** Whether commands can be sent now. */
  get open() {
    return this.current && this.socket?.readyState === WebSocket.OPEN;
  }

  /**
   * Send a command; resolves when it was carried out.
   * @template {keyof Commands} K
   * @param {K} name
   * @param {Commands[K]} fields
   * @returns {Promise<Done>}
   */
  ask(name, fields) {
    return new Promise((done, refused) => {
      if (!this.socket || !this.open) {
        refused(new Error("There is no connection to bedjoint: nothing was changed."));
        return;
      }
      const id = this.next++;
      this.asked.set(id, { done, refused });
      this.socket.send(JSON.stringify({ do: name, id, on: this.version, ...fields }));
    });
  }

  /**
   * Send a drag: nobody waits for its answer, and it is about whatever is there.
   * @param {import("./messages.js").Drag} drag
   */
  drag(drag) {
    if (this.open) this.socket?.send(JSON.stringify({ do: "drag", id: this.next++, on: null, ...drag }));
  }

  /**
   * Hear a kind of telling.
   * @template {keyof Tellings} K
   * @param {K} name
   * @param {(message: Tellings[K]) => void} listener
   */
  hear(name, listener) {
    const all = this.heard.get(name) ?? [];
    all.push(listener);
    this.heard.set(name, all);
  }

  /** @param {string} text */
  take(text) {
    const message = JSON.parse(text);
    if (message.tell === "state") {
      this.version = message.version;
      if (!this.current) {
        this.current = true;
        this.wait = FIRST_WAIT_MS;
        this.onopen(true);
      }
    }
    if (message.tell === "done") {
      this.asked.get(message.id)?.done(message);
      this.asked.delete(message.id);
    }
    if (message.tell === "refused" && message.id !== null) {
      this.asked.get(message.id)?.refused(new Error(message.reason));
      this.asked.delete(message.id);
    }
    for (const listener of this.heard.get(message.tell) ?? []) listener(message);
  }
}
