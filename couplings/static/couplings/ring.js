/* The points inside a clock face, redrawn while one types; the same geometry as plant/drawings/clock.py. */
import { corrected, directions, leastSquares } from "./align.js";

const [CENTRE, RADIUS, ROOM] = [70, 46, 22];
const SVG = "http://www.w3.org/2000/svg";

function draw(svg, name, css, places) {
  const one = document.createElementNS(SVG, name);
  one.setAttribute("class", css);
  for (const [key, value] of Object.entries(places)) one.setAttribute(key, value.toFixed(1));
  svg.append(one);
}

/* Constant, cosine and sine through the readings; null while three places do not tell them apart. */
export function circleOf(angles, values) {
  if (angles.length < 3) return null;
  const [cosines, sines] = directions(angles);
  const { found, known } = leastSquares(angles.map((_, i) => [1, cosines[i], sines[i]]), values, 3);
  return known.every(Boolean) ? found : null;
}

export function redraw(svg, set) {
  const turned = (set.kind === "gap" || (set.kind === "rim" && set.carriedBy === "movable")) !== (set.surface === "far");
  const values = corrected({ ...set, half: false, opposed: null }).map((n) => (turned ? -n : n));
  const fit = circleOf(set.angles, values);
  const mean = fit ? fit[0] : values.reduce((sum, n) => sum + n, 0) / (values.length || 1);
  const reach = Math.max(0, ...values.map((n) => Math.abs(n - mean)));
  let k = 260;
  while (reach * k > ROOM && k > 1e-3) k /= 2;
  svg.querySelectorAll(".dot, .pt-on, .ring, .ring-fit, .spool").forEach((one) => one.remove());
  if (fit) {
    const [x, y] = [CENTRE + fit[2] * k, CENTRE - fit[1] * k];
    draw(svg, "circle", "ring-fit", { cx: x, cy: y, r: RADIUS });
    draw(svg, "line", "spool", { x1: CENTRE, y1: CENTRE, x2: x, y2: y });
    draw(svg, "circle", "dot", { cx: CENTRE, cy: CENTRE, r: 2.2 });
    draw(svg, "circle", "ring", { cx: x, cy: y, r: 4 });
  }
  set.angles.forEach((deg, i) => {
    const [turn, r] = [(deg * Math.PI) / 180, RADIUS + (values[i] - mean) * k];
    draw(svg, "circle", "dot", { cx: CENTRE + r * Math.sin(turn), cy: CENTRE - r * Math.cos(turn), r: 4.5 });
  });
}
