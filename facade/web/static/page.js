// The page: what is designed is a table of settings, as in a job file; all that is shown follows from it.
import { Viewer, decoded } from "./viewer.js";
import { Newest, Refused, Server } from "./asking.js";
import { button, control, element } from "./controls.js";
import { eyeButtons, lightChoice } from "./tools.js";

const $ = (name) => document.getElementById(name);
const clone = (value) => JSON.parse(JSON.stringify(value));
const TABLES = { front: "The front", strips: "Strips", wood: "Wood", carving: "Carving", picture: "Light and finish" };
const LISTS = { lands: "Lands", fades: "Fades", caps: "Caps" };

const server = new Server(
  () => say("The program has stopped answering. Your design is kept on this page; start it again with the same port, and the page goes on."),
  () => { say(""); show(true); check.give(null); },
);
const page = { name: "", text: "", hash: "", settings: {}, past: [], future: [], controls: null, kept: [], other: null, at: null, unit: "mm" };
let viewer = null;

const scene = new Newest(async ({ fine }) => {
  try {
    const found = decoded(await server.ask("scene", { settings: page.settings, fine }));
    page.scene = found;
    viewer?.put(found, 0);
    if (!server.away) say("");
    $("title").textContent = found.about.title;
    $("mark").textContent = found.about.mark;
    document.title = `${found.about.title}, mark ${found.about.mark}`;
    document.body.dataset.mark = found.about.mark;
    document.body.dataset.fine = String(fine);
    $("summary").textContent = `${found.about.strips.length} strips, ${found.about.light.words}.`;
    if (fine) stripNumbers(found.about.numbers);
  } catch (error) { refused(error); }
});

const check = new Newest(async () => {
  const asked = JSON.stringify(page.settings);
  try {
    const found = await server.ask("findings", { settings: page.settings });
    if (asked === JSON.stringify(page.settings)) tell(found);
  } catch (error) { refused(error, "What stands on the left cannot be made into a front yet."); }
});

let resting = 0;
function show(done) {
  scene.give({ fine: done });
  clearTimeout(resting);
  if (!done) return;
  $("verdict").textContent = "is being checked";
  document.body.dataset.checked = "";
  resting = setTimeout(() => { check.give(null); if (page.at) strip(page.at); }, 250);
  remember();
}

function refused(error, verdict) {
  if (!(error instanceof Refused)) throw error;
  if (error.message) say(error.message);
  if (verdict) $("verdict").textContent = verdict;
}

function say(words) { $("notice").textContent = words; $("notice").hidden = !words; }

// What is designed

function at(path) { return path.reduce((table, part) => table?.[part], page.settings); }

function change(path, value, done) {
  if (!page.before) page.before = JSON.stringify(page.settings);
  let table = page.settings;
  path.slice(0, -1).forEach((part, index) => {
    if (table[part] === undefined) table[part] = typeof path[index + 1] === "number" ? [] : {};
    table = table[part];
  });
  const last = path[path.length - 1];
  if (value === undefined) delete table[last];
  else table[last] = value;
  settled(done);
}

function replaced(settings, redraw = true) {
  if (!page.before) page.before = JSON.stringify(page.settings);
  page.settings = settings;
  settled(true);
  if (redraw) draw();
}

function settled(done) {
  if (done && page.before !== JSON.stringify(page.settings)) {
    page.past.push(page.before);
    page.future = [];
  }
  if (done) page.before = null;
  steps();
  show(done);
}

function step(from, to) {
  if (!from.length) return;
  to.push(JSON.stringify(page.settings));
  page.settings = JSON.parse(from.pop());
  page.before = null;
  draw();
  steps();
  show(true);
}

function steps() { $("undo").disabled = !page.past.length; $("redo").disabled = !page.future.length; }

// The address holds the design, so that it can be kept and opened again.
function remember() {
  const held = JSON.stringify({ name: page.name, settings: page.settings, eye: viewer?.eye });
  const bytes = new TextEncoder().encode(held);
  history.replaceState(null, "", `#${btoa(String.fromCharCode(...bytes)).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "")}`);
}

function remembered() {
  try {
    const text = atob(location.hash.slice(1).replaceAll("-", "+").replaceAll("_", "/"));
    const held = JSON.parse(new TextDecoder().decode(Uint8Array.from(text, (letter) => letter.charCodeAt(0))));
    return held.settings && typeof held.settings === "object" ? held : null;
  } catch (error) { return null; }
}

// Controls

function draw() {
  const open = new Set([...document.querySelectorAll("#controls details[open]")].map((one) => one.dataset.name));
  const { sections, lists } = page.controls;
  $("controls").replaceChildren(
    ...(page.settings.layers || []).map(layer),
    button("Add a layer", () => { const all = clone(page.settings); all.layers.push({ kind: "hills", ...page.controls.kinds.hills.example }); replaced(all); }),
    element("p", {}),
    ...Object.entries(sections).map(([name, fields]) => folded(name, TABLES[name], fields.map((field) => row(field, [name, field.name])))),
    ...Object.entries(lists).map(([name, fields]) => folded(name, LISTS[name], list(name, fields))),
  );
  document.querySelectorAll("#controls details").forEach((one) => { one.open = open.has(one.dataset.name) || (!open.size && one.dataset.name === "strips"); });
}

function folded(name, title, children) { return element("details", { "data-name": name }, element("summary", { textContent: title }), ...children); }

function row(field, path) {
  if (field.parts.length) return tables(field, path);
  return control(field, at(path), page.unit, (value, done) => change(path, value, done));
}

// A list of tables within a field, such as the trains of waves.
function tables(field, path) {
  const held = Array.isArray(at(path)) ? at(path) : [];
  return element("fieldset", {}, element("legend", { textContent: field.label }), ...held.map((_, index) =>
    element("fieldset", {}, element("legend", { textContent: `${field.label} ${index + 1}` }), ...field.parts.map((part) => row(part, [...path, index, part.name])),
      held.length > 1 ? button("Remove", () => { const all = clone(page.settings); path.reduce((table, part) => table[part], all).splice(index, 1); replaced(all); }) : "")),
  button("Add one", () => { const all = clone(page.settings); const to = path.reduce((table, part) => table[part], all); to.push(clone(to[to.length - 1] || {})); replaced(all); }));
}

function layer(held, index, all) {
  const kind = page.controls.kinds[held.kind], common = page.controls.layer.map((field) => field.name);
  const moved = (way) => () => { const next = clone(page.settings); const [one] = next.layers.splice(index, 1); next.layers.splice(index + way, 0, one); replaced(next); };
  const other = (name) => {
    const next = clone(page.settings), kept = Object.fromEntries(Object.entries(held).filter(([key]) => common.includes(key)));
    next.layers[index] = { ...kept, kind: name, ...clone(page.controls.kinds[name].example) };
    replaced(next);
  };
  const kinds = { name: "kind", label: "kind of relief", about: kind?.about || "", type: "one of", choices: Object.keys(page.controls.kinds).filter((name) => !["grid", "mesh", "points"].includes(name) || name === held.kind), parts: [] };
  return element("fieldset", {}, element("legend", { textContent: all.length > 1 ? `Layer ${index + 1}` : "Relief" }),
    control(kinds, held.kind, page.unit, other),
    ...(kind?.fields || []).map((field) => row(field, ["layers", index, field.name])),
    folded(`more-${index}`, "More of this layer", page.controls.layer.map((field) => row(field, ["layers", index, field.name]))),
    element("div", { className: "row" },
      button("Up", moved(-1), { disabled: index === 0 }), button("Down", moved(1), { disabled: index + 1 === all.length }),
      button("Remove", () => { const next = clone(page.settings); next.layers.splice(index, 1); replaced(next); }, { disabled: all.length === 1 })));
}

function list(name, fields) {
  const held = page.settings[name] || [], { width = 900, height = 800 } = page.settings.front || {};
  const first = {
    lands: { centre: [width / 2, height / 2], size: [width / 10, height / 6], shape: "ellipse" }, fades: { edge: "bottom", width: height / 6 },
    caps: { edge: "left", width: width / 15, height: (page.settings.wood?.blank || 20) * 0.7 },
  }[name];
  return [...held.map((_, index) => element("fieldset", {}, element("legend", { textContent: `${LISTS[name].slice(0, -1)} ${index + 1}` }),
    ...fields.map((field) => row(field, [name, index, field.name])),
    button("Remove", () => { const all = clone(page.settings); all[name].splice(index, 1); if (!all[name].length) delete all[name]; replaced(all); }))),
  held.length ? "" : element("p", { className: "quiet", textContent: "None yet." }),
  button(`Add a ${LISTS[name].slice(0, -1).toLowerCase()}`, () => { const all = clone(page.settings); all[name] = [...(all[name] || []), clone(first)]; replaced(all); })];
}

// What comes of it

function tell(found) {
  $("verdict").textContent = found.verdict;
  $("numbers").replaceChildren(...Object.entries(found.numbers).flatMap(([name, value]) => [element("dt", { textContent: name }), element("dd", { textContent: value })]));
  const order = { stops: 0, "look at": 1, "good to know": 2 };
  $("findings").replaceChildren(...found.findings.sort((one, other) => order[one.weight] - order[other.weight]).map((finding) => {
    const named = { stops: "stops", "look at": "look", "good to know": "know" }[finding.weight];
    const made = button("", () => go(finding));
    made.append(element("b", { textContent: `${finding.check}: ${finding.weight === "stops" ? "stops the job" : finding.weight}` }), finding.sentence, finding.cure ? ` ${finding.cure}` : "");
    return element("li", { className: named }, made);
  }));
  document.body.dataset.checked = found.mark;
}

function go(finding) {
  const about = page.scene?.about;
  if (!about) return;
  if (finding.strip) {
    const [left, right] = about.strips[Math.max(0, about.numbers.indexOf(finding.strip))];
    const x = left + (finding.from_left ?? (right - left) / 2), y = about.top - (finding.from_top ?? (about.top - about.bottom) / 2);
    page.spot = finding.from_top === undefined ? null : [x, y];
    choose(finding.strip);
    viewer?.goTo(x, y);
  } else if (finding.door) {
    const [left, right, low, high] = about.doors[finding.door - 1];
    page.spot = null;
    viewer?.goTo((left + right) / 2, (low + high) / 2);
  } else viewer?.whole();
  spot();
}

function spot() {
  const made = $("spot"), place = page.spot && viewer?.placeOn(...page.spot, page.scene.about.blank * 0.7);
  made.hidden = !place;
  if (place) Object.assign(made.style, { left: `${place[0]}px`, top: `${place[1]}px` });
}

function stripNumbers(numbers) {
  if ($("strip-numbers").textContent === numbers.join("")) return;
  $("strip-numbers").replaceChildren(...numbers.map((number) => button(String(number), () => choose(number), { "aria-label": `strip ${number}` })));
}

function choose(number) {
  page.at = number;
  if (viewer) { viewer.chosen = number && page.scene ? page.scene.about.numbers.indexOf(number) + 1 : number; viewer.draw(); }
  if (number) strip(number);
  else $("strip").replaceChildren();
}

const stripAsked = new Newest(async (number) => {
  try { drawStrip(await server.ask("strip", { settings: page.settings, number })); } catch (error) { if (!(error instanceof Refused)) throw error; $("strip").replaceChildren(); }
});
const strip = (number) => stripAsked.give(number);

function drawStrip(found) {
  const table = element("table", {}, element("caption", { className: "quiet", textContent: "Finished heights above the back" }),
    element("thead", {}, element("tr", {}, ...["from TOP", "left", "right"].map((name) => element("th", { scope: "col", textContent: name })))),
    element("tbody", {}, ...found.offsets.map((cells) => element("tr", {}, ...cells.map((cell) => element("td", { textContent: cell }))))));
  $("strip").replaceChildren(element("h2", { textContent: `Strip ${found.number}, door ${found.door}` }),
    element("p", { textContent: `${found.size}. Thinnest ${found.thinnest}.` }),
    element("p", { textContent: "Left side, TOP end at the right" }), side(found, found.left, true),
    element("p", { textContent: "Right side, TOP end at the left" }), side(found, found.right, false),
    element("details", {}, element("summary", { textContent: "Table of offsets" }), table));
}

// A side as it is seen, its back along the bottom: looking at the left side the TOP end is at the right.
function side(found, heights, left) {
  const wide = 300, tall = 54, x = (from) => (left ? 1 - from / found.length : from / found.length) * wide, y = (height) => tall - 2 - height / found.blank * (tall - 6);
  const lines = heights.map((height, index) => `${x(found.from_top[index]).toFixed(1)},${y(height).toFixed(2)}`).join(" ");
  const made = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  made.setAttribute("viewBox", `0 0 ${wide} ${tall}`);
  made.setAttribute("class", "side");
  made.setAttribute("role", "img");
  made.setAttribute("aria-label", `${left ? "left" : "right"} side, from ${Math.min(...heights).toFixed(1)} to ${Math.max(...heights).toFixed(1)} mm high`);
  made.innerHTML = `<line x1="0" x2="${wide}" y1="${y(0)}" y2="${y(0)}" stroke="currentColor" stroke-width="2"/>
    <line x1="0" x2="${wide}" y1="${y(found.floor)}" y2="${y(found.floor)}" stroke="currentColor" stroke-dasharray="2 4"/>
    <polyline points="${lines}" fill="none" stroke="currentColor" stroke-width="1.6"/>`;
  return made;
}

// Keeping and comparing

function keep() {
  const letter = String.fromCharCode(65 + page.kept.length % 26);
  viewer?.paint();
  page.kept.push({ letter, settings: clone(page.settings), mark: page.scene.about.mark, picture: small(), scene: page.scene });
  $("kept-box").open = true;
  drawKept();
}

function small() {
  const canvas = $("view"), made = element("canvas", { width: 220, height: Math.round(220 * canvas.height / Math.max(canvas.width, 1)) });
  made.getContext("2d").drawImage(canvas, 0, 0, made.width, made.height);
  return made.toDataURL("image/jpeg", 0.85);
}

function drawKept() {
  $("kept").replaceChildren(...page.kept.map((one) => element("div", {},
    element("img", { src: one.picture, alt: `Option ${one.letter}, mark ${one.mark}` }), element("p", { textContent: `${one.letter}, ${one.mark}` }),
    button(`Take ${one.letter}`, () => replaced(clone(one.settings))),
    button(page.other === one ? "Alone again" : `Beside ${one.letter}`, () => beside(page.other === one ? null : one)))));
  if (!page.kept.length) $("kept").replaceChildren(element("p", { className: "quiet", textContent: "None yet: keep one, change the design, and put both side by side." }));
}

function beside(one) {
  page.other = one;
  $("sides").hidden = !one;
  if (one) { $("other").textContent = `option ${one.letter}`; viewer?.put(one.scene, 1); } else viewer?.drop(1);
  drawKept();
}

// Files

function drawFiles() {
  const name = element("input", { type: "text", id: "file-name", value: page.name, className: "full" });
  const save = async (over) => {
    try {
      const found = await server.ask("save", { name: name.value, text: page.text, settings: page.settings, hash: name.value === page.name ? page.hash : "", over });
      Object.assign(page, { name: found.name, hash: found.hash, text: found.text });
      said.textContent = `Saved ${found.name}, mark ${found.mark}.`;
      again.hidden = true;
      document.body.dataset.saved = found.mark;
      remember();
    } catch (error) {
      refused(error);
      said.textContent = error.message;
      again.hidden = !/is there already/.test(error.message);
    }
  };
  const again = button("Save over it", () => save(true), { hidden: true }), said = element("p", { role: "status", id: "saved" });
  const files = element("select", { id: "file-choice", className: "full" });
  const fill = ({ files: own, presets }) => {
    files.replaceChildren(element("optgroup", { label: "job files here" }, ...own.map((one) => new Option(one, `name ${one}`))),
      element("optgroup", { label: "presets" }, ...presets.map((one) => new Option(one, `preset ${one}`))));
  };
  fill(page.listed);
  files.addEventListener("focus", async () => { try { const held = files.value; fill(await server.get("files")); files.value = held; } catch (error) { refused(error); } });
  const open = async () => {
    const [kind, ...rest] = files.value.split(" ");
    try { begin(await server.ask("open", { [kind]: rest.join(" ") })); } catch (error) { refused(error); }
  };
  $("files").replaceChildren(element("fieldset", {}, element("legend", { textContent: "Job file" }),
    element("label", { htmlFor: "file-choice", textContent: "open" }), files, element("div", { className: "row" }, button("Open", open)),
    element("label", { htmlFor: "file-name", textContent: "save as" }), name,
    element("div", { className: "row" }, button("Save", () => save(false), { className: "main" }), again), said,
    element("div", { className: "row" }, button("Build all files", build), button("Download this view", report)), element("div", { id: "building", role: "status" })));
}

async function build() {
  const box = $("building");
  try {
    const { build: number } = await server.ask("build", { name: $("file-name").value, settings: page.settings, text: page.text });
    const bar = element("progress", { max: 1, value: 0, "aria-label": "building" });
    const waits = element("span", {});
    box.replaceChildren("Building ", bar, waits);
    for (;;) {
      const found = await server.get(`progress?build=${number}`);
      if (found.total) { bar.max = found.total; bar.value = found.done; }
      waits.textContent = found.waits ? ` ${found.waits}` : "";
      if (found.failed) { box.textContent = found.failed; return; }
      if (found.ended) {
        box.replaceChildren(element("p", { textContent: `Built out/${found.folder}.${found.cleared ? "" : " The checks stop this job: every sheet says NOT CLEARED."}` }),
          ...found.kept.map((words) => element("p", { textContent: words })),
          element("a", { href: `pack?build=${number}`, download: `${found.folder}.zip`, textContent: "Download all of it" }));
        return;
      }
      await new Promise((done) => setTimeout(done, 300));
    }
  } catch (error) { box.replaceChildren(); refused(error); }
}

async function report() {
  try {
    const found = await server.ask("report", { settings: page.settings });
    const made = element("a", { href: URL.createObjectURL(found), download: "front.html" });
    made.click();
    setTimeout(() => URL.revokeObjectURL(made.href), 10000);
  } catch (error) { refused(error); }
}

function begin(found) {
  Object.assign(page, { name: found.name, text: found.text, hash: found.hash, settings: found.settings, past: [], future: [], before: null, at: null, spot: null });
  page.unit = found.settings.unit || "mm";
  drawFiles();
  draw();
  steps();
  show(true);
}

async function start() {
  try {
    viewer = new Viewer($("view"));
    viewer.moved = () => { spot(); clearTimeout(page.looked); page.looked = setTimeout(remember, 300); };
    viewer.painted = spot;
    viewer.picked = (index) => choose(index ? page.scene.about.numbers[index - 1] : 0);
    eyeButtons($("tools"), viewer);
    lightChoice($("tools"), viewer, "as the job says");
  } catch (error) { say(`${error.message} The numbers and findings still hold.`); }
  $("tools").append(button("Keep this one", keep));
  const found = await server.get("start");
  Object.assign(page, { controls: found.controls, listed: found.listed });
  const held = remembered();
  begin(held && held.name === found.name ? { ...found, settings: held.settings } : held ? { ...found, name: held.name, hash: "", text: "", settings: held.settings } : found);
  if (held?.eye && viewer) { await scene.idle; Object.assign(viewer.eye, held.eye); viewer.draw(); }
  drawKept();
  $("undo").addEventListener("click", () => step(page.past, page.future));
  $("redo").addEventListener("click", () => step(page.future, page.past));
  $("show-files").addEventListener("click", () => {
    $("files").hidden = !$("files").hidden;
    $("show-files").setAttribute("aria-expanded", String(!$("files").hidden));
    if (!$("files").hidden) $("files").querySelector("select").focus();
  });
  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || /^(text|number)$/.test(event.target.type || "")) return;
    if (event.key === "z" && !event.shiftKey) { step(page.past, page.future); event.preventDefault(); }
    if (event.key === "y" || (event.key === "z" && event.shiftKey)) { step(page.future, page.past); event.preventDefault(); }
  });
  // For those who look from outside: the newest heights, and the eye.
  window.facade = { page, viewer, change };
}

start().catch(refused);
