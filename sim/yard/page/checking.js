// The full check: all judges, with progress, and their report.
import { byId, dialogById, h } from "./dom.js";
import { LOOKS } from "./answers.js";

export class Checking {
  /**
   * @param {import("./store.js").Store} store
   * @param {import("./doing.js").Doing} doing
   */
  constructor(store, doing) {
    this.store = store;
    this.doing = doing;
    this.dialog = dialogById("checking");
    this.running = false;
    /** @type {import("./messages.js").Checked | null} */
    this.told = null;
    this.bar = h("progress", { max: 1, value: 0, "aria-label": "Progress of the full check" });
    this.what = h("p", { className: "soft", "aria-live": "polite" });
    byId("check").addEventListener("click", () => this.open());
    store.on(["state"], () => {
      if (this.dialog.open) this.show();
    });
  }

  open() {
    const fresh = this.told && this.told.version === this.store.state?.version;
    if (!fresh && !this.running) void this.start();
    this.show();
    if (!this.dialog.open) this.dialog.showModal();
  }

  async start() {
    this.running = true;
    this.bar.removeAttribute("value");
    this.what.textContent = "Beginning…";
    const done = await this.doing.do("check", {});
    if (!done) this.stop("It did not begin.");
  }

  /** @param {import("./messages.js").Progress} progress */
  progress(progress) {
    this.running = true;
    this.bar.max = Math.max(1, progress.of);
    this.bar.value = progress.done;
    this.what.textContent = `${progress.what}: ${progress.done} of ${progress.of}`;
    byId("check").textContent = "Checking…";
    if (this.dialog.open) this.show();
  }

  /** @param {string} reason */
  stop(reason) {
    this.running = false;
    byId("check").textContent = "Full check";
    this.what.textContent = reason || "Stopped.";
    if (this.dialog.open) this.show();
  }

  /** @param {import("./messages.js").Checked} told */
  finish(told) {
    this.told = told;
    this.running = false;
    byId("check").textContent = "Full check";
    if (this.dialog.open) this.show();
  }

  show() {
    const { told } = this;
    const old = told && told.version !== this.store.state?.version;
    /** @type {HTMLElement[]} */
    const parts = [h("div", { className: "top" }, h("h2", { id: "checking-title" }, "Full check"), h("span", { className: "grow" }),
      this.running ? h("button", { type: "button", className: "small", on: { click: () => void this.doing.do("stop", { job: "check" }) } }, "Stop") : h("button", { type: "button", className: "small", on: { click: () => void this.start().then(() => this.show()) } }, "Check again"),
      h("button", { type: "button", className: "small", on: { click: () => this.dialog.close() } }, "Close"))];
    if (this.running) parts.push(h("div", {}, this.bar, this.what));
    if (told) {
      const [look, sign] = LOOKS[told.verdict];
      parts.push(h("section", { className: `verdict ${look}`, style: { margin: "0 0 10px" } },
        h("div", { className: "word" }, h("span", { className: "sign", "aria-hidden": "true" }, sign), told.verdict[0].toUpperCase() + told.verdict.slice(1), h("span", { className: "grow" }), old ? h("span", { className: "soft" }, "before the last change") : null),
        h("p", {}, told.reason)), h("pre", { tabIndex: 0, "aria-label": "Report" }, told.text));
    } else if (!this.running) parts.push(this.what);
    this.dialog.replaceChildren(...parts);
  }
}
