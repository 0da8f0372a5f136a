// Where the eye stands and where the light comes from: the same buttons on the page and in the report.

const AMBIENT = 0.2;

export const LIGHTS = [
  ["window left", { direction: slanting(180, 24), ambient: AMBIENT, lamp: null }],
  ["window right", { direction: slanting(0, 24), ambient: AMBIENT, lamp: null }],
  ["raking, 12 degrees", { direction: slanting(180, 12), ambient: AMBIENT, lamp: null }],
  ["lamps in the ceiling", { direction: slanting(90, 36), ambient: AMBIENT, lamp: [1, 700, 800] }],
  ["strip above", { direction: slanting(90, 10), ambient: AMBIENT, lamp: [1, 30, 80] }],
  ["flat from the front", { direction: [0, 0, 1], ambient: 0.45, lamp: null }],
];

const EYES = [["straight on", 0], ["30 degrees left", -30], ["30 degrees right", 30], ["60 degrees right", 60]];

function slanting(azimuth, height) {
  const turn = azimuth * Math.PI / 180, up = height * Math.PI / 180;
  return [Math.cos(up) * Math.cos(turn), Math.cos(up) * Math.sin(turn), Math.sin(up)];
}

export function eyeButtons(box, viewer) {
  EYES.forEach(([name, degrees]) => {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = name;
    made.addEventListener("click", () => viewer.whole(degrees * Math.PI / 180));
    box.append(made);
  });
}

export function lightChoice(box, viewer, first) {
  const label = document.createElement("label"), choice = document.createElement("select");
  label.textContent = "try the light ";
  [[first, null], ...LIGHTS].forEach(([name], index) => choice.add(new Option(name, String(index))));
  choice.addEventListener("change", () => { viewer.light = Number(choice.value) ? LIGHTS[Number(choice.value) - 1][1] : null; viewer.draw(); });
  label.append(choice);
  box.append(label);
}
