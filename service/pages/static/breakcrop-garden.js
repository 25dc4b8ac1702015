/* <breakcrop-garden src="https://HOST/v1/gardens/ID" key="PUBLISHABLE KEY">: a garden's beds on any page.
 *
 * Attributes: src, key; refresh (minutes between looks for news, 15; 0 for none); pictures (which of
 * "map timeline", both); level (of the heading, 2); theme ("light" or "dark", else that of the page).
 * It takes type and ink from the page.  Parts to style: heading, status, summary, findings, table, picture.
 */

const LIMIT = 20; // seconds that an answer may take
const MINUTES = 15;
const DAY = 24 * 60 * 60;
const SEVERITIES = {
  breach: ["breaks a rule", "break a rule"],
  caution: ["works against you", "work against you"],
  advice: ["is advice", "are advice"],
  benefit: ["is a benefit", "are benefits"],
};
const PICTURES = { map: "Map of the beds", timeline: "The beds through the years" };
const WRONG = {
  401: "The key to this garden is not good any more. Ask whoever runs the page for a new one.",
  403: "The key may not show this. A publishable key of the garden is needed.",
  404: "There is no such garden, or the key belongs to another one.",
  409: "No beds are on record for this garden yet.",
  429: "The garden was asked for too often. Try again in a minute.",
};
const UNREACHED = "The garden could not be reached. Try again in a while.";

/** An element with attributes and children; text is always text and never markup. */
export function make(name, attributes, ...children) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes ?? {})) if (value != null) made.setAttribute(key, value);
  made.append(...children.filter((child) => child != null));
  return made;
}

/** "2027-04-20" as "20 April 2027". */
export function day(text) {
  const date = new Date(`${text}T12:00:00Z`);
  return date.toLocaleDateString("en-GB", { day: "numeric", month: "long", year: "numeric", timeZone: "UTC" });
}

/** What went wrong, as a sentence; wait is in seconds where the service says how long. */
export class Trouble extends Error {
  constructor(message, wait) {
    super(message);
    this.wait = wait;
  }
}

/** The answer to a GET; the browser's cache asks with the ETag that it has.  Throws Trouble. */
export async function ask(url, key, signal) {
  const stop = new AbortController();
  const late = setTimeout(() => stop.abort(), LIMIT * 1000);
  const dropped = () => stop.abort();
  signal?.addEventListener("abort", dropped);
  try {
    const answer = await fetch(url, {
      headers: { Authorization: `Bearer ${key}` },
      cache: "no-cache",
      credentials: "omit",
      referrerPolicy: "no-referrer",
      signal: stop.signal,
    });
    if (answer.ok) return { tag: answer.headers.get("ETag"), body: await answer.blob() };
    const told = [422, 501].includes(answer.status) ? (await answer.json()).detail : null;
    throw new Trouble(told ?? WRONG[answer.status] ?? UNREACHED, Number(answer.headers.get("Retry-After")));
  } catch (error) {
    throw error instanceof Trouble ? error : new Trouble(UNREACHED);
  } finally {
    clearTimeout(late);
    signal?.removeEventListener("abort", dropped);
  }
}

/** The same, read as JSON. */
export async function askJson(url, key, signal) {
  const { tag, body } = await ask(url, key, signal);
  return { tag, value: JSON.parse(await body.text()) };
}

const style = new CSSStyleSheet();
style.replaceSync(`
  :host { display: block; container-type: inline-size; color: inherit; font: inherit; line-height: 1.5; }
  :host([hidden]) { display: none; }
  :host([theme="light"]) { color-scheme: light; color: #1d1d1a; background: #fdfdfb; }
  :host([theme="dark"]) { color-scheme: dark; color: #ebebe4; background: #1b1b19; }
  * { box-sizing: border-box; }
  .heading { margin: 0 0 0.25em; font-size: 1.4em; font-weight: bold; overflow-wrap: anywhere; }
  p { margin: 0.25em 0 0.75em; }
  [part="status"] { font-size: 0.9em; }
  .trouble { border-left: 0.35em solid #d55e00; padding-left: 0.75em; font-size: 1em; }
  ul { margin: 0; padding: 0; list-style: none; }
  [part="findings"] details { border-left: 0.35em solid currentColor; margin: 0 0 0.5em; padding: 0.1em 0 0.1em 0.75em; }
  .breach { border-color: #d55e00 !important; }
  .caution { border-color: #e69f00 !important; }
  .advice { border-color: #0072b2 !important; }
  .benefit { border-color: #009e73 !important; }
  summary { cursor: pointer; }
  [part="findings"] summary { font-size: 1.1em; }
  summary:focus-visible, a:focus-visible, .window:focus-visible { outline: 3px solid currentColor; outline-offset: 2px; }
  [part="findings"] li { margin: 0.4em 0; }
  .title, .aside { display: block; }
  .title { font-weight: bold; }
  .aside { font-size: 0.9em; }
  p:empty { display: none; }
  a { color: inherit; }
  table { width: 100%; border-collapse: collapse; margin: 1em 0; }
  caption { text-align: left; font-weight: bold; padding: 0.25em 0; }
  th, td { text-align: left; vertical-align: top; padding: 0.4em 0.75em 0.4em 0; overflow-wrap: anywhere; }
  tr { border-bottom: 1px solid; border-color: color-mix(in srgb, currentColor 35%, transparent); }
  figure { margin: 1em 0; }
  figcaption { font-size: 0.9em; }
  .window { overflow-x: auto; margin: 0.25em 0; }
  img { display: block; max-width: 100%; height: auto; }
  @container (max-width: 38em) {
    img { max-width: none; width: 40em; } /* smaller, its words could not be read */
    table, caption, tbody, tr, th, td { display: block; }
    thead { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
    tbody th { font-size: 1.1em; padding-bottom: 0; }
    td { padding: 0.15em 0; }
    td::before { content: attr(data-label) ": "; opacity: 0.8; }
    td ul, td ul li { display: inline; }
    td ul li:not(:last-child)::after { content: "; "; }
    td:empty { display: none; }
  }
`);

class BreakcropGarden extends HTMLElement {
  static observedAttributes = ["src", "key", "pictures", "level", "refresh"];

  #root = this.attachShadow({ mode: "open" });
  #status = make("p", { part: "status", role: "status" });
  #shown = make("div");
  #tag = "";
  #urls = [];
  #timer;
  #stop;
  #due = false;
  #wake = () => this.#due && !document.hidden && this.#look();

  constructor() {
    super();
    this.#root.adoptedStyleSheets = [style];
    this.#root.append(this.#shown, this.#status);
  }

  connectedCallback() {
    document.addEventListener("visibilitychange", this.#wake);
    this.#begin();
  }

  disconnectedCallback() {
    document.removeEventListener("visibilitychange", this.#wake);
    this.#halt();
    this.#forget();
  }

  attributeChangedCallback(name, before, after) {
    if (this.isConnected && before !== after) this.#begin();
  }

  #begin() {
    this.#halt();
    this.#tag = "";
    this.#forget();
    this.#shown.replaceChildren(); // what stood there may be another garden's
    this.#stop = new AbortController();
    const { signal } = this.#stop;
    queueMicrotask(() => signal.aborted || this.#look()); // once, when several attributes are set
  }

  #halt() {
    this.#stop?.abort();
    clearTimeout(this.#timer);
  }

  #forget() {
    this.#urls.splice(0).forEach((url) => URL.revokeObjectURL(url));
  }

  #say(text, trouble = false) {
    this.#status.textContent = text;
    this.#status.className = trouble ? "trouble" : "";
  }

  /** Ask, show what is new, and look again later: politely, while the page is seen. */
  async #look() {
    const [src, key, { signal }] = [this.getAttribute("src")?.replace(/\/+$/, ""), this.getAttribute("key"), this.#stop];
    this.#due = false;
    if (!src || !key) return this.#say("This garden needs its address (src) and its key.", true);
    if (!this.#tag) this.#say("The garden is being fetched.");
    let wait = Math.max(0, Number(this.getAttribute("refresh") ?? MINUTES) || 0) * 60;
    try {
      const { tag, value } = await askJson(`${src}/board`, key, signal);
      if (signal.aborted) return;
      if (tag === null || tag !== this.#tag) {
        this.#shown.replaceChildren(...this.#parts(value));
        await this.#draw(src, key, signal);
      }
      this.#tag = tag ?? "untagged";
      this.#say("");
    } catch (error) {
      if (signal.aborted) return;
      const old = this.#tag ? " What is shown may be out of date." : "";
      this.#say((error instanceof Trouble ? error.message : UNREACHED) + old, true);
      if (wait) wait = Math.max(wait, error.wait || 0);
      if (!(error instanceof Trouble)) console.error(error);
    }
    if (!wait) return;
    const look = () => {
      this.#due = true;
      this.#wake();
    };
    this.#timer = setTimeout(look, Math.min(Math.max(wait, 60), DAY) * 1000);
  }

  #parts(board) {
    const level = Math.min(6, Math.max(1, Number(this.getAttribute("level")) || 2));
    return [
      make(`h${level}`, { part: "heading", class: "heading" }, board.garden),
      make("p", { part: "summary" }, summary(board)),
      table(board),
      make("div", { part: "findings" }, ...findings(board)),
      ...this.#wanted().map((name) => make("figure", { part: "picture", id: name })),
    ];
  }

  #wanted() {
    const words = (this.getAttribute("pictures") ?? "map timeline").split(/\s+/);
    return Object.keys(PICTURES).filter((name) => words.includes(name));
  }

  async #draw(src, key, signal) {
    this.#forget();
    await Promise.all(
      this.#wanted().map(async (name) => {
        const figure = this.#shown.querySelector(`#${name}`);
        try {
          const { body } = await ask(`${src}/${name}.svg`, key, signal);
          const text = (await body.text()).replace(/<style[^]*?<\/style>/g, ""); // a page's policy may forbid styles
          const drawn = new DOMParser().parseFromString(text, "image/svg+xml");
          const told = ["title", "desc"].map((part) => drawn.querySelector(`svg > ${part}`)?.textContent.trim());
          if (signal.aborted) return;
          const url = URL.createObjectURL(new Blob([body], { type: "image/svg+xml" }));
          this.#urls.push(url);
          const save = make("a", { href: url, download: `${name}.svg` }, "Save the picture");
          const image = make("img", { src: url, alt: told.filter(Boolean).join(". ") || PICTURES[name] });
          const frame = make("div", { class: "window", role: "group", tabindex: 0, "aria-label": PICTURES[name] }, image);
          figure.replaceChildren(make("figcaption", {}, `${PICTURES[name]}. `, save), frame);
        } catch {
          figure.replaceChildren(make("figcaption", {}, `${PICTURES[name]}: the picture could not be loaded.`));
        }
      }),
    );
  }
}

function summary(board) {
  const counted = Object.entries(SEVERITIES).flatMap(([severity, [one, many]]) => {
    const count = board.findings.filter((finding) => finding.severity === severity).length;
    return count ? [`${count} ${count === 1 ? one : many}`] : [];
  });
  const skipped = board.skipped ? " Some checks could not be made, as something is not on record." : "";
  const season = board.judged.season ? `season ${board.judged.season}` : `${day(board.judged.from)} to ${day(board.judged.to)}`;
  const said = {
    breach: "The plan breaks a rule",
    caution: "The plan breaks no rule, but something works against it",
    unknown: "Nothing was found against the plan, but years that matter are not on record",
    clear: "Nothing speaks against the plan",
  };
  const told = counted.length ? ` Of what was found, ${counted.join(", ").replace(/, ([^,]*)$/, " and $1")}.` : "";
  return `${said[board.verdict]} (${season}).${told}${skipped}`;
}

function findings(board) {
  const told = new Set(); // a caution stands in full where it is first needed
  return Object.entries(SEVERITIES).flatMap(([severity, [one, many]]) => {
    const found = board.findings.filter((finding) => finding.severity === severity);
    if (!found.length) return [];
    const items = found.map((finding) =>
      make(
        "li",
        {},
        make("span", { class: "title" }, finding.title),
        finding.fix,
        ...cautions(finding, told),
      ),
    );
    const label = `${found.length} ${found.length === 1 ? one : many}`;
    const open = severity === "breach" ? "" : null;
    return [make("details", { class: severity, open }, make("summary", {}, label), make("ul", {}, ...items))];
  });
}

function cautions(finding, told) {
  const fresh = finding.cautions.filter((caution) => !told.has(caution));
  fresh.forEach((caution) => told.add(caution));
  const lines = fresh.map((caution) => `Caution: ${caution}`);
  if (fresh.length < finding.cautions.length) lines.push(`${fresh.length ? "Other cautions" : "Cautions"} as above.`);
  return lines.map((line) => make("span", { class: "aside" }, line));
}

const COLUMNS = ["Bed", "Stands now", "Next", "Room from", "Should wait"];

/** Roles are written out, since a table that is laid out as blocks may lose them. */
function table(board) {
  const head = COLUMNS.map((name) => make("th", { scope: "col", role: "columnheader" }, name));
  const rows = board.beds.map((bed) => {
    const cells = [
      list(bed.standing.map(stands)),
      bed.next ? `${grown(bed.next)}, ${day(bed.next.start)}` : "",
      bed.free_from === null ? "not while it stands" : bed.free_from === board.as_of ? "now" : day(bed.free_from),
      waiting(bed.breaks, board.as_of),
    ];
    return make(
      "tr",
      { role: "row" },
      make("th", { scope: "row", role: "rowheader" }, bed.name),
      ...cells.map((cell, at) => make("td", { role: "cell", "data-label": COLUMNS[at + 1] }, ...(cell ? [cell] : []))),
    );
  });
  return make(
    "table",
    { part: "table", role: "table" },
    make("caption", {}, `The beds on ${day(board.as_of)}`),
    make("thead", { role: "rowgroup" }, make("tr", { role: "row" }, ...head)),
    make("tbody", { role: "rowgroup" }, ...rows),
  );
}

function grown(planting) {
  return planting.variety ? `${planting.crop} (${planting.variety})` : planting.crop;
}

function stands(planting) {
  if (!planting.end) return `${grown(planting)}, until cleared`;
  return `${grown(planting)}, until ${planting.assumed_end ? "about " : ""}${day(planting.end)}`;
}

function list(lines) {
  return lines.length ? make("ul", {}, ...lines.map((line) => make("li", {}, line))) : "nothing";
}

function waiting(breaks, today) {
  if (!breaks.length) return "";
  const lines = breaks.map(({ family, least, better }) => {
    if (!least) return `${family}: never again`;
    if (least <= today) return `${family}: better from ${day(better)}`;
    return `${family}: from ${day(least)}${better > least ? `, better from ${day(better)}` : ""}`;
  });
  const label = `${breaks.length} plant ${breaks.length === 1 ? "family" : "families"}`;
  return make("details", {}, make("summary", {}, label), list(lines));
}

customElements.get("breakcrop-garden") ?? customElements.define("breakcrop-garden", BreakcropGarden);
