// The line below the wall: the circuit or panel that a person pointed at, and what may be done to it.

import { byID, el, rows, text } from './dom.js';
import { Slot } from './notes.js';
import { amps, bare, clock, percent } from './words.js';

const states = [['in', 'is in'], ['out', 'is out'], ['locked-off', 'is locked off']];

export class Inspector {
  constructor(desk) {
    this.desk = desk;
    this.chosen = { panel: null, circuit: 0 };
    this.first = el('p', { class: 'what' });
    this.second = el('p', { class: 'figures' });
    this.buttons = states.map(([state, words]) => el('button', { type: 'button', onclick: () => this.service(state, words) }, words));
    this.dark = el('button', { type: 'button', hidden: true, onclick: () => this.attest() }, 'it is dark');
    const box = byID('inspector');
    box.append(el('div', { class: 'told' }, this.first, this.second), el('div', { class: 'keys', role: 'group', 'aria-label': 'what you say of its breaker; nothing here switches it' }, ...this.buttons, this.dark));
    this.slot = new Slot(desk, box, true);
  }

  choose(chosen) {
    this.chosen = chosen;
    this.draw();
  }

  rewire() { this.chosen = { panel: null, circuit: 0 }; }

  draw() {
    const { desk } = this;
    const c = desk.circuits[this.chosen.circuit];
    if (!c) return;
    const p = this.chosen.panel === null ? null : desk.plant.panels[this.chosen.panel];
    const output = p && desk.view.outputs[p.output];
    const where = p ? `${desk.plant.walls[p.wall].name} C${p.column}R${p.row} · ${output ? `${output.name} ${percent(output.high)} ${output.state}` : 'no output'} · ` : '';
    text(this.first, `${where}circuit ${c.name}`);
    const legs = c.legs.map((l) => `L${l}`).join(' ');
    text(this.second, `${bare(c.worst)} of ${amps(c.limit)} · board ${desk.plant.boards[c.board].name}, poles ${c.poles.join(' ')}, ${legs} · breaker ${c.breaker} A · ${c.panels} panels`);
    this.buttons.forEach((b, i) => b.setAttribute('aria-pressed', String(states[i][0] === c.service)));
    this.dark.hidden = !output || output.state === 'confirmed' || output.state === 'attested';
  }

  service(state, words) {
    const c = this.desk.circuits[this.chosen.circuit];
    this.slot.ask(`circuit ${c.name} ${words}`, 'circuit', { name: c.name, state });
  }

  attest() {
    const p = this.desk.plant.panels[this.chosen.panel];
    const { name } = this.desk.view.outputs[p.output];
    this.slot.ask(`${name} is dark`, 'attest', { output: name });
  }
}

// recordPart keeps the record's tail, and the reload of the site's files beside it.
export function recordPart(desk) {
  let last = 0;
  const ask = async () => {
    const now = performance.now();
    if (now - last < 1000 || !desk.wire.fresh()) return;
    last = now;
    try { show(await desk.wire.call('record', { n: 60 })); } catch { /* the link says so itself */ }
  };
  const slot = new Slot(desk, byID('reload'), false);
  byID('reload').prepend(el('button', { type: 'button', onclick: () => slot.ask('reload', 'reload', {}) }, 'read the site’s files again'));
  desk.add({ draw: ask });
  setInterval(ask, 1000);
}

function show(lines) {
  const tail = lines.slice().reverse();
  rows(byID('record'), tail, (l) => l.seq, (l) => line(l));
  const newest = tail[0];
  text(byID('last-line'), newest ? `${clock(newest.at)} ${newest.station ?? ''} ${newest.text}` : '');
}


function line(l) {
  return el('p', { class: 'entry', 'data-kind': l.kind }, el('time', { datetime: l.at }, clock(l.at)), el('b', {}, l.kind), el('span', {}, [l.station, l.text].filter(Boolean).join(': ')));
}
