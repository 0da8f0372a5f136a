// The controls, made from the job's own fields as the server lists them.

let serial = 0;

export function element(name, settings = {}, ...children) {
  const made = document.createElement(name);
  Object.entries(settings).forEach(([key, value]) => {
    if (key === "on") Object.entries(value).forEach(([event, work]) => made.addEventListener(event, work));
    else if (key in made && key !== "list") made[key] = value;
    else made.setAttribute(key, value);
  });
  made.append(...children);
  return made;
}

export const button = (text, work, settings = {}) => element("button", { type: "button", textContent: text, on: { click: work }, ...settings });

// One control of a field; `change(value, done)` is told of every value, `done` when the hand lets go.
export function control(field, value, unit, change) {
  serial += 1;
  const name = `field-${serial}`, shown = field.length ? `${field.label}, ${unit}` : field.label;
  const label = element("label", { htmlFor: name, textContent: shown });
  const about = element("small", { textContent: field.about, id: `${name}-about` });
  const box = element("div", { className: "field" }, label);
  const common = { id: name, "aria-describedby": about.id };
  if (field.type === "one of") box.append(choice(field, value, common, change));
  else if (field.type.startsWith("a pair")) box.append(pair(shown, value, change));
  else if (typeof (value ?? field.default) === "boolean") {
    box.append(element("input", { ...common, type: "checkbox", checked: Boolean(value ?? field.default), on: { change: (event) => change(event.target.checked, true) } }));
  } else if (field.type === "text") box.append(element("input", { ...common, type: "text", className: "full", value: value ?? "", on: { change: (event) => change(event.target.value, true) } }));
  else box.append(...number(field, value, unit, common, shown, change));
  box.append(about);
  return box;
}

function choice(field, value, common, change) {
  const made = element("select", { ...common, className: "full", on: { change: (event) => change(event.target.value, true) } });
  field.choices.forEach((one) => made.add(new Option(one, one)));
  made.value = value ?? field.default ?? field.choices[0];
  return made;
}

function pair(label, value, change) {
  const held = Array.isArray(value) ? [...value] : [0, 0];
  const inputs = ["first", "second"].map((which, index) => element("input", {
    type: "number", step: "any", value: held[index], "aria-label": `${label}, ${which}`,
    on: { change: (event) => { held[index] = Number(event.target.value); change([...held], true); } },
  }));
  return element("div", { className: "pair" }, ...inputs);
}

function number(field, value, unit, common, label, change) {
  const part = field.length && unit === "in" ? 1 / 25.4 : 1, whole = field.type === "whole number";
  const held = value ?? field.default;
  const [low, high] = limits(field, typeof held === "number" ? held : null, part);
  const step = whole ? 1 : stepOf(high - low);
  const box = element("input", { type: "number", step: whole ? 1 : "any", value: typeof held === "number" ? held : "", placeholder: "left out", "aria-label": `${label}, as a number` });
  const slider = element("input", { ...common, type: "range", min: low, max: high, step, value: typeof held === "number" ? held : low });
  slider.addEventListener("input", () => { box.value = slider.value; change(Number(slider.value), false); });
  slider.addEventListener("change", () => change(Number(slider.value), true));
  box.addEventListener("change", () => {
    if (box.value === "") change(undefined, true);
    else { slider.value = box.value; change(Number(box.value), true); }
  });
  if (typeof held !== "number") { box.id = common.id; slider.removeAttribute("id"); slider.hidden = true; box.removeAttribute("aria-label"); }
  return [slider, box];
}

// From where to where a slider goes: the field's own limits, or about the value where these are far away.
function limits(field, value, part) {
  const size = Math.abs(value ?? 0) || (field.length ? 100 * part : 1);
  let low = field.low === null ? -size * 3 : field.low * part, high = field.high === null ? size * 3 : field.high * part;
  if (field.length || high - low > 1000) {
    if (field.length) low = Math.max(low, size / 4);
    else if (low < -1000) low = -size * 3;
    high = Math.min(high, Math.max(size * 2.5, field.length ? 0 : 10));
  }
  if (field.name === "seed") [low, high] = [0, Math.max(100, value ?? 0)];
  return [Math.min(low, value ?? low), Math.max(high, value ?? high)];
}

function stepOf(range) {
  const rough = range / 400, ten = 10 ** Math.floor(Math.log10(Math.max(rough, 1e-6)));
  return Number((rough > 5 * ten ? 10 * ten : rough > 2 * ten ? 5 * ten : rough > ten ? 2 * ten : ten).toPrecision(1));
}
