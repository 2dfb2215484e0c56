/** A tab for every job: explore and identify made by hand, the rest from their own descriptions. */

import { Identify } from "./identify.js";
import { JobForm } from "./jobs.js";
import { lab, on, tell } from "./store.js";
import { element } from "./viewer/dom.js";

class Tabs {
  constructor(host, main, say) {
    Object.assign(this, { host, main, say, tabs: [] });
    this.add("explore", "Explore", main.querySelector("#panel-explore"));
    this.add("identify", "Identify", (panel) => new Identify(panel));
    for (const job of lab.start.jobs) {
      if (job.name !== "identify") this.add(job.name, job.name[0].toUpperCase() + job.name.slice(1), (panel) => new JobForm(panel, job));
    }
    host.onkeydown = (event) => this.keyed(event);
    on("tab", (name) => this.show(name));
    this.show(new URLSearchParams(location.hash.slice(1)).get("tab") ?? "explore");
  }

  /** Parameters: panel : an element, or what builds into one once it is looked at */
  add(name, words, panel) {
    const button = element("button", { type: "button", role: "tab", id: `tab-${name}` }, words);
    button.setAttribute("aria-controls", `panel-${name}`);
    button.onclick = () => this.show(name);
    const made = panel instanceof HTMLElement ? panel : element("section", { id: `panel-${name}`, className: "job", role: "tabpanel", hidden: true, "aria-labelledby": button.id });
    if (made !== panel) this.main.append(made);
    this.host.append(button);
    this.tabs.push({ name, button, panel: made, build: made === panel ? null : panel });
  }

  show(name) {
    const chosen = this.tabs.find((each) => each.name === name) ?? this.tabs[0];
    lab.tab = chosen.name;
    for (const each of this.tabs) {
      const now = each === chosen;
      each.button.setAttribute("aria-selected", String(now));
      each.button.tabIndex = now ? 0 : -1;
      each.panel.hidden = !now;
    }
    chosen.build?.(chosen.panel);
    chosen.build = null;
    tell("view");
  }

  keyed(event) {
    const by = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (!by) return;
    event.preventDefault();
    const at = this.tabs.findIndex(({ name }) => name === lab.tab);
    const next = this.tabs[(at + by + this.tabs.length) % this.tabs.length];
    this.show(next.name);
    next.button.focus();
  }
}

export { Tabs };
