/* The pages of a garden and of a planting.  The key stands behind "#" in the address: it stays in the browser. */

import { Trouble, ask, askJson, day, make } from "./breakcrop-garden.js";

const page = document.querySelector("#page");
const { garden, planting } = page.dataset;
const src = new URL(garden, location.href).href;
const STATUS = { planned: "planned", growing: "growing", done: "cleared", lost: "lost" };

function key() {
  return location.hash.slice(1);
}

function show() {
  const labels = document.querySelector("#labels");
  if (labels) labels.hidden = !key();
  if (!key()) page.replaceChildren(door());
  else if (planting === undefined) page.replaceChildren(make("breakcrop-garden", { src, key: key(), level: 1 }));
  else record();
}

/** Where no key is in the address: ask for one. */
function door(trouble) {
  const field = make("input", { id: "key", type: "password", autocomplete: "off", required: "", spellcheck: "false" });
  const form = make(
    "form",
    {},
    make("h1", {}, "Open with your key"),
    make("p", {}, "This record is private. Whoever runs the garden's record can give you a key that reads it."),
    trouble ? make("p", { role: "alert" }, trouble) : null,
    make("p", {}, make("label", { for: "key" }, "Key"), " ", field, " ", make("button", {}, "Open")),
  );
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const before = location.hash;
    location.hash = encodeURIComponent(field.value.trim());
    if (location.hash === before) show(); // the same key again
  });
  return form;
}

async function record() {
  page.replaceChildren(make("p", { role: "status" }, "The record is being fetched."));
  const parts = [`plantings/${encodeURIComponent(planting)}`, "board"];
  try {
    const [row, board] = (await Promise.all(parts.map((part) => askJson(`${src}/${part}`, key())))).map(
      (answer) => answer.value,
    );
    const bed = board.beds.find((one) => one.bed === row.bed);
    const crop = row.crop.slice(0, 1).toUpperCase() + row.crop.slice(1);
    document.title = `${crop} - breakcrop`;
    const found = board.findings.filter((finding) => finding.plantings.includes(row.id));
    page.replaceChildren(
      make("h1", {}, crop),
      facts(row, bed?.name ?? row.bed),
      ...(found.length ? [make("h2", {}, "What the check says"), make("ul", {}, ...found.map(told))] : []),
      ...(row.journal?.length ? [make("h2", {}, "Journal"), journal(row.journal)] : []),
      make("p", {}, make("a", { href: `${page.dataset.page}#${key()}` }, "The whole garden")),
    );
  } catch (error) {
    if (!(error instanceof Trouble)) console.error(error);
    page.replaceChildren(door(error instanceof Trouble ? error.message : "The record could not be read."));
  }
}

function facts(row, bed) {
  const lines = {
    Variety: row.variety?.name,
    Bed: bed,
    Start: row.start ? day(row.start) : row.season,
    "First harvest": row.first_harvest && day(row.first_harvest),
    End: row.end && day(row.end),
    Now: STATUS[row.status],
    "Lost to": row.cause,
    Plants: row.count,
    Spacing: row.spacing && `${row.spacing} cm`,
  };
  const shown = Object.entries(lines).filter(([, value]) => value != null && value !== "");
  return make("dl", {}, ...shown.flatMap(([name, value]) => [make("dt", {}, name), make("dd", {}, String(value))]));
}

function told(finding) {
  const cautions = finding.cautions.map((caution) => make("small", {}, ` Caution: ${caution}`));
  return make("li", {}, make("strong", {}, finding.title), ` ${finding.fix}`, ...cautions);
}

function journal(lines) {
  const items = lines.map((line) => {
    const more = [line.of, line.cause, line.active, line.kind, line.amount, line.note].filter(Boolean).join(", ");
    return make("li", {}, `${day(line.date)}: ${line.did}${more ? `, ${more}` : ""}`);
  });
  return make("ul", {}, ...items);
}

/** Labels open in a tab of their own; the tab is opened by the click, before the answer, or it would be blocked. */
document.querySelector("#labels form")?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const form = event.target;
  const status = form.querySelector("[role=status]");
  const tab = window.open("", "_blank");
  status.textContent = "The labels are being made.";
  try {
    const { body } = await ask(`${src}/labels?${new URLSearchParams(new FormData(form))}`, key());
    const url = URL.createObjectURL(body);
    if (tab) tab.location = url;
    status.replaceChildren(make("a", { href: url, target: "_blank" }, "Open the labels"));
  } catch (error) {
    tab?.close();
    status.textContent = error instanceof Trouble ? error.message : "The labels could not be made.";
  }
});

window.addEventListener("hashchange", show);
show();
