// The report: the viewer alone, its scene in the page.
import { Viewer, decoded } from "./viewer.js";
import { eyeButtons, lightChoice } from "./tools.js";

const bytes = Uint8Array.from(atob(JSON.parse(document.getElementById("scene").textContent)), (letter) => letter.charCodeAt(0));
try {
  const viewer = new Viewer(document.getElementById("view")), scene = decoded(bytes.buffer), box = document.getElementById("tools");
  eyeButtons(box, viewer);
  lightChoice(box, viewer, "as the job says");
  viewer.put(scene);
} catch (error) {
  const said = document.getElementById("failed");
  said.textContent = error.message;
  said.hidden = false;
}
