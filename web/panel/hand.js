// The commands that are always at hand: blackout, level, go, back, worklight; and the zones.

import { byID, el, rows, set, text } from './dom.js';
import { Slot } from './notes.js';
import { newest } from './wire.js';
import { percent, seconds, stops } from './words.js';

export class Hand {
  constructor(desk) {
    this.desk = desk;
    this.dark = new Slot(desk, byID('dark-group'), true);
    this.level = new Slot(desk, byID('level-group'), true);
    this.next = new Slot(desk, byID('go-group'), true);
    byID('blackout').addEventListener('click', () => this.blackout());
    byID('let-go').addEventListener('click', () => this.dark.ask('end blackout', 'blackout', { off: true }));
    byID('worklight').addEventListener('click', () => this.dark.ask('worklight', 'worklight', {}));
    byID('go').addEventListener('click', () => this.go());
    byID('back').addEventListener('click', () => this.next.ask('back', 'back', {}));
    byID('step-down').addEventListener('click', () => this.level.ask('half a stop down', 'step', { stops: -0.5 }));
    byID('step-up').addEventListener('click', () => this.level.ask('half a stop up', 'step', { stops: 0.5 }));
    this.fader = fader(byID('level'), (v) => this.level.ask('level', 'level', { level: v }, { quiet: true }), (v) => text(byID('level-out'), percent(v)));
    document.addEventListener('keydown', (e) => this.key(e));
  }

  // key takes the two keys that work anywhere. With a modifier they belong to the browser, and held down they count once.
  key(e) {
    if (e.ctrlKey || e.altKey || e.metaKey || e.repeat) return;
    if (e.key === 'b' || e.key === 'B') this.blackout();
    if ((e.key === 'g' || e.key === 'G') && !byID('go').disabled) this.go();
  }

  blackout() {
    this.dark.ask('blackout', 'blackout', {}, { send: (p) => this.desk.wire.blackout(p) });
  }

  go() { this.next.ask('go', 'go', {}); }

  draw() {
    const { view } = this.desk;
    const { look } = view;
    const anyDark = look.blackout || view.zones.some((z) => z.black);
    byID('let-go').disabled = !anyDark;
    byID('worklight').disabled = false;
    set(byID('blackout'), 'data-on', look.blackout);
    text(byID('blackout-word'), look.blackout ? 'everything is wanted dark' : 'key B');
    for (const id of ['level', 'step-up', 'step-down']) byID(id).disabled = !look.preset;
    this.fader.show(look.scale);
    if (!look.preset) text(byID('level-out'), '–');
    const armed = view.armed ? this.desk.preset(view.armed) : null;
    byID('go').disabled = !view.armed;
    text(byID('go-word'), armed ? `${armed.number} ${armed.name}${dip(view.dip)}` : 'nothing is armed');
    const before = look.previous ? this.desk.preset(look.previous) : null;
    byID('back').disabled = !look.previous;
    text(byID('back-word'), before ? `${before.number} ${before.name}` : '');
  }
}

// dip says what the switch to the armed preset will look like; the named zones wait while the others go down.
const dip = (d) => (d ? ` · dips ${d.depth < -20 ? 'to dark' : stops(-Math.abs(d.depth))} for ${seconds(d.about)}${d.zones?.length ? `, then ${d.zones.join(', ')}` : ''}` : '');

// fader makes a range a stream: the newest value goes, one at a time, and the daemon's value shows again once the hand is off.
function fader(input, send, tell) {
  let held = false;
  const stream = newest(send);
  let rest = null;
  input.addEventListener('input', () => {
    held = true;
    tell(Number(input.value) / 100);
    stream(Number(input.value) / 100);
    clearTimeout(rest);
    rest = setTimeout(() => { held = false; }, 1500);
  });
  input.addEventListener('change', () => { clearTimeout(rest); rest = setTimeout(() => { held = false; }, 300); });
  return {
    show(v, instead) {
      if (held) return;
      const n = String(Math.round(v * 100));
      if (input.value !== n) input.value = n;
      tell(v, instead);
    },
  };
}

// zonesPart gives each zone its level and its own dark.
export function zonesPart(desk) {
  desk.add({ draw() { rows(byID('zones'), desk.view.zones, (z) => z.name, (z) => zone(desk, z.name), (node, z) => drawZone(desk, node, z)); } });
}

function zone(desk, name) {
  const range = el('input', { type: 'range', min: 0, max: 100, step: 1, 'aria-label': `level of ${name}` });
  const out = el('output');
  const dark = el('button', { type: 'button', class: 'zone-dark', onclick: () => press() }, 'dark');
  const press = () => {
    const off = node.hasAttribute('data-dark'); // what the button said when it was pressed
    slot.ask(off ? `${name} dark ended` : `${name} dark`, 'blackout', { zone: name, off });
  };
  const node = el('div', { class: 'zone' }, el('span', { class: 'name' }, name), el('span', { class: 'cap' }), range, out, dark);
  const slot = new Slot(desk, node, false);
  node.fader = fader(range, (v) => slot.ask(`${name} level`, 'zoneLevel', { zone: name, level: v }, { quiet: true }), (v, instead) => text(out, instead ?? percent(v)));
  return node;
}

function drawZone(desk, node, z) {
  const states = [...new Set(z.outputs.map((i) => desk.view.outputs[i]?.state).filter((s) => s && s !== 'confirmed'))];
  const unknown = z.outputs.map((i) => desk.view.outputs[i]).filter((o) => o?.state === 'unknown');
  node.fader.show(z.wanted, unknown.length ? `${Math.round(100 * Math.min(...unknown.map((o) => o.low)))}–${percent(Math.max(...unknown.map((o) => o.high)))}?` : null);
  set(node, 'data-unknown', unknown.length > 0); // the thumb stands where it is wanted, and nobody knows where the wall stands
  text(node.querySelector('.cap'), [`cap ${percent(z.cap)}`, ...states].join(' · '));
  set(node, 'data-pending', states.includes('pending'));
  set(node, 'data-dark', z.black);
  const dark = node.querySelector('.zone-dark');
  text(dark, z.black ? 'end dark' : 'dark');
  set(dark, 'aria-label', `${z.black ? 'end dark' : 'dark'} ${z.name}`);
}
