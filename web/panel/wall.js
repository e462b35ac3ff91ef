// The walls, drawn to one scale as seen from the front: column 1 at the left, row 1 at the bottom.

import { byID, el, set, svg, text } from './dom.js';
import { circuitColour, loadColour } from './ramp.js';
import { share } from './desk.js';
import { bare, percent } from './words.js';

const gap = 18; // px between walls
const head = 17; // px above a wall for its name
const foot = 13; // px below for column numbers

export class Wall {
  constructor(desk, choose) {
    this.desk = desk;
    this.choose = choose; // called with the panel that a person points at
    this.box = byID('wall');
    this.mode = 'load';
    this.at = null;
    for (const mode of ['load', 'circuit']) byID(`by-${mode}`).addEventListener('click', () => this.colourBy(mode));
    this.box.addEventListener('keydown', (e) => this.key(e));
    new ResizeObserver(() => this.rewire()).observe(this.box);
    legend();
  }

  colourBy(mode) {
    this.mode = mode;
    for (const m of ['load', 'circuit']) set(byID(`by-${m}`), 'aria-pressed', m === mode);
    byID('legend').dataset.mode = mode;
    this.draw();
  }

  rewire() {
    const { plant } = this.desk;
    if (!plant || this.box.clientWidth === 0) return;
    const lay = layout(plant.walls, this.box.clientWidth, this.box.clientHeight);
    this.root = svg('svg', { viewBox: `0 0 ${lay.width} ${lay.height}`, width: lay.width, height: lay.height, 'aria-hidden': 'true' }, patterns());
    this.cells = new Array(plant.panels.length);
    this.places = lay.places;
    this.scale = lay.scale;
    plant.walls.forEach((w, i) => this.root.append(frame(w, lay.places[i], lay.scale)));
    plant.panels.forEach((p, i) => this.root.append(this.cell(p, i)));
    this.root.append(this.borders('circuit', 'border'), this.borders('output', 'border output'));
    this.circuitLabels = labels(this, 'circuit', plant.circuits, 'circuit-label');
    this.outputLabels = labels(this, 'output', plant.outputs, 'output-label');
    this.cursor = svg('rect', { class: 'cursor', visibility: 'hidden' });
    this.root.append(this.cursor);
    this.box.replaceChildren(this.root);
    if (this.at >= plant.panels.length) this.at = null;
    this.mark();
    this.draw();
  }

  // spot gives a panel's corner and size in px.
  spot(p) {
    const w = this.desk.plant.walls[p.wall];
    const at = this.places[p.wall];
    const [width, height] = [w.panelWidth * this.scale, w.panelHeight * this.scale];
    return { x: at.x + (p.column - 1) * width, y: at.y + (w.rows - p.row) * height, width, height };
  }

  cell(p, i) {
    const s = this.spot(p);
    const inset = 0.28;
    const lit = svg('rect', { class: 'lit', x: s.x + s.width * inset, y: s.y + s.height * inset, width: s.width * (1 - 2 * inset), height: s.height * (1 - 2 * inset) });
    const panel = svg('rect', { class: 'panel', x: s.x, y: s.y, width: s.width, height: s.height });
    const off = svg('rect', { class: 'off', x: s.x, y: s.y, width: s.width, height: s.height, fill: 'url(#out-pattern)', visibility: 'hidden' });
    this.cells[i] = { panel, lit, off };
    return svg('g', { onclick: () => this.point(i) }, panel, lit, off);
  }

  // borders draws a line wherever neighbours belong to different circuits or outputs.
  borders(kind, name) {
    const { plant } = this.desk;
    const of = new Map(plant.panels.map((p) => [`${p.wall} ${p.column} ${p.row}`, p[kind]]));
    let d = '';
    for (const p of plant.panels) {
      const s = this.spot(p);
      const right = of.get(`${p.wall} ${p.column + 1} ${p.row}`);
      const above = of.get(`${p.wall} ${p.column} ${p.row + 1}`);
      if (right !== undefined && right !== p[kind]) d += `M${s.x + s.width} ${s.y}v${s.height}`;
      if (above !== undefined && above !== p[kind]) d += `M${s.x} ${s.y}h${s.width}`;
    }
    return svg('path', { class: name, d });
  }

  draw() {
    const { desk } = this;
    if (!desk.view || !desk.plant || !this.cells) return;
    desk.plant.panels.forEach((p, i) => this.paint(this.cells[i], desk.circuits[p.circuit], desk.view.outputs[p.output]));
    for (const l of this.circuitLabels) this.labelCircuit(l, desk.circuits[l.index]);
    for (const l of this.outputLabels) labelOutput(l, desk.view.outputs[l.index]);
    const words = desk.view.outputs.map((o) => `${o.name} ${level(o)} ${o.state}`).join(', ');
    set(this.box, 'aria-label', `the wall; arrow keys go from panel to panel. ${words}`);
  }

  paint(cell, circuit, output) {
    const load = share(circuit);
    const colour = this.mode === 'circuit' ? circuitColour(circuit?.index ?? 0) : loadColour(load);
    set(cell.panel, 'fill', circuit ? colour : 'none');
    set(cell.panel, 'class', load > 1 + 1e-9 ? 'panel over' : 'panel');
    set(cell.lit, 'fill-opacity', output ? (output.high ** 0.5).toFixed(2) : '0');
    set(cell.lit, 'class', output && output.state !== 'confirmed' && output.state !== 'attested' ? 'lit unsure' : 'lit');
    set(cell.off, 'visibility', circuit && circuit.service !== 'in' ? 'visible' : 'hidden');
  }

  labelCircuit(l, c) {
    if (!c) return;
    const load = c.service === 'in' ? bare(c.worst) : c.service === 'out' ? 'out' : 'off';
    text(l.first, l.tall ? `${c.name} ${load}` : c.name);
    text(l.second, l.upright ? '' : load);
  }

  point(i) {
    this.at = i;
    this.mark();
    this.choose({ panel: i, circuit: this.desk.plant.panels[i].circuit });
  }

  mark() {
    if (this.at === null || !this.cursor) return;
    const s = this.spot(this.desk.plant.panels[this.at]);
    for (const k of ['x', 'y', 'width', 'height']) set(this.cursor, k, s[k]);
    set(this.cursor, 'visibility', 'visible');
  }

  key(e) {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[e.key];
    const { plant } = this.desk;
    if (!step || !plant?.panels.length) return;
    e.preventDefault();
    const from = plant.panels[this.at ?? 0];
    let next = plant.panels.findIndex((p) => p.wall === from.wall && p.column === from.column + step[0] && p.row === from.row + step[1]);
    if (next < 0 && step[0]) next = plant.panels.findIndex((p) => p.wall === from.wall + step[0]);
    if (this.at === null) next = 0;
    if (next >= 0) this.point(next);
  }
}

// An output that is where it is wanted shows that level; what a restart could make of it is in the amps. Any other shows all that it may stand at.
const settled = (o) => o.state === 'confirmed' || o.state === 'assumed';
const level = (o) => (o.high === 0 || (settled(o) && o.black) ? 'dark' : settled(o) ? percent(o.wanted) : o.low === o.high ? percent(o.high) : `${percent(o.low)} to ${percent(o.high)}`);

// labelOutput writes an output's level as large as its breadth allows, since two that run into each other can be read as neither.
function labelOutput(l, o) {
  if (!o) return;
  text(l.first, level(o).replace(' % to ', '–'));
  l.first.style.fontSize = `${Math.max(12, Math.min(25, l.width / (0.6 * l.first.textContent.length)))}px`;
  text(l.second, o.state === 'confirmed' ? '' : o.state);
}

// layout finds the arrangement of the walls in rows, in the rig's order, that draws them largest.
export function layout(walls, width, height) {
  let best = null;
  for (let cuts = 0; cuts < 1 << Math.max(0, walls.length - 1); cuts++) {
    const lines = [[]];
    walls.forEach((w, i) => {
      if (i > 0 && cuts & (1 << (i - 1))) lines.push([]);
      lines.at(-1).push(i);
    });
    const wide = Math.max(...lines.map((l) => sum(l, (i) => walls[i].columns * walls[i].panelWidth)));
    const high = sum(lines, (l) => Math.max(...l.map((i) => walls[i].rows * walls[i].panelHeight)));
    const most = Math.max(...lines.map((l) => l.length));
    const scale = Math.min((width - 2 - gap * (most - 1)) / wide, (height - lines.length * (head + foot)) / high);
    if (!best || scale > best.scale) best = { lines, scale };
  }
  return put(walls, best, width);
}

const sum = (list, of) => list.reduce((n, v) => n + of(v), 0);

function put(walls, { lines, scale }, width) {
  const places = [];
  let y = 0;
  for (const line of lines) {
    const tall = Math.max(...line.map((i) => walls[i].rows * walls[i].panelHeight * scale));
    let x = 1;
    for (const i of line) {
      places[i] = { x, y: y + head + tall - walls[i].rows * walls[i].panelHeight * scale };
      x += walls[i].columns * walls[i].panelWidth * scale + gap;
    }
    y += head + tall + foot;
  }
  return { places, scale, width, height: Math.max(1, y) };
}

function frame(w, at, scale) {
  const [width, height] = [w.panelWidth * scale, w.panelHeight * scale];
  const g = svg('g', { class: 'frame' },
    svg('text', { class: 'wall-name', x: at.x, y: at.y - 5 }, w.name),
    svg('rect', { x: at.x, y: at.y, width: w.columns * width, height: w.rows * height }));
  for (let c = 1; c <= w.columns; c++) {
    if (c === 1 || c % 5 === 0) {
      g.append(svg('text', { class: 'tick', x: at.x + (c - 0.5) * width, y: at.y + w.rows * height + 10, 'text-anchor': 'middle' }, c === 1 ? 'C1' : String(c)));
    }
  }
  return g;
}

// labels puts two lines in the middle of what belongs together on one wall: a circuit's name and amps, an output's level and state.
function labels(wall, kind, things, name) {
  const { plant } = wall.desk;
  const areas = new Map();
  for (const p of plant.panels) {
    if (p[kind] < 0) continue;
    const s = wall.spot(p);
    const key = `${p.wall} ${p[kind]}`;
    const a = areas.get(key) ?? { index: p[kind], x0: s.x, y0: s.y, x1: s.x, y1: s.y };
    areas.set(key, { ...a, x0: Math.min(a.x0, s.x), y0: Math.min(a.y0, s.y), x1: Math.max(a.x1, s.x + s.width), y1: Math.max(a.y1, s.y + s.height) });
  }
  return [...areas.values()].filter((a) => things[a.index]).map((a) => label(wall, a, name));
}

function label(wall, a, name) {
  const x = (a.x0 + a.x1) / 2;
  const width = a.x1 - a.x0;
  const upright = name === 'circuit-label' && width < 28; // too narrow for a name: it stands on its end
  const y = name === 'output-label' ? a.y0 + 30 : a.y1 - 19;
  const first = svg('text', { class: name, x, y, 'text-anchor': 'middle' });
  const second = svg('text', { class: `${name} second`, x, y: y + (name === 'output-label' ? 16 : 12), 'text-anchor': 'middle' });
  if (upright) {
    set(first, 'class', `${name} upright`);
    set(first, 'transform', `rotate(-90 ${x} ${a.y1 - 4}) translate(0 4)`);
    set(first, 'text-anchor', 'start');
    set(first, 'y', a.y1 - 4);
  }
  if (!upright || width > 12) wall.root.append(first, second);
  return { index: a.index, first, second, width, upright, tall: upright && a.y1 - a.y0 > 130 };
}

function patterns() {
  return svg('defs', {},
    svg('pattern', { id: 'out-pattern', width: 6, height: 6, patternUnits: 'userSpaceOnUse', patternTransform: 'rotate(45)' },
      svg('rect', { width: 6, height: 6, fill: '#15130f' }), svg('rect', { width: 2, height: 6, fill: '#8d8676' })));
}

function legend() {
  const box = byID('legend');
  box.dataset.mode = 'load';
  const steps = [0, 0.2, 0.4, 0.6, 0.8, 1];
  box.append(el('span', { class: 'of-circuits' }, 'one colour a circuit · name and amps on it'));
  box.append(el('span', { class: 'of-load' }, 'of the limit', ...steps.map((s) => {
    const swatch = el('span', { class: 'swatch' });
    swatch.style.backgroundColor = loadColour(s);
    return el('span', { class: 'step' }, swatch, `${s * 100}`);
  }), el('span', { class: 'step' }, el('span', { class: 'swatch over' }), 'over'), '%'));
}
