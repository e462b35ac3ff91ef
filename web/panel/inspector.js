// The line below the wall: the circuit or panel that a person pointed at, and what may be done to it.

import { byID, el, rows, set, text } from './dom.js';
import { Slot } from './notes.js';
import { amps, bare, clock, day, minutes, percent } from './words.js';

const states = [['in', 'is in'], ['out', 'is out'], ['locked-off', 'is locked off']];

export class Inspector {
  constructor(desk) {
    this.desk = desk;
    this.chosen = { panel: null, circuit: 0 };
    this.first = el('p', { class: 'what' });
    this.second = el('p', { class: 'figures' });
    this.buttons = states.map(([state, words]) => el('button', { type: 'button', onclick: () => this.service(state, words) }, words));
    this.dark = el('button', { type: 'button', hidden: true, onclick: () => this.attest() }, 'it is dark');
    this.light = el('button', { type: 'button', onclick: () => this.identify('circuit') }, 'light circuit');
    this.lightPanel = el('button', { type: 'button', hidden: true, onclick: () => this.identify('panel') }, 'light panel');
    this.prove = el('button', { type: 'button', onclick: () => this.proved() }, 'is proved');
    const box = byID('inspector');
    box.append(el('div', { class: 'told' }, this.first, this.second), el('div', { class: 'keys', role: 'group', 'aria-label': 'what you say of its breaker; nothing here switches it' }, ...this.buttons, this.dark),
      el('div', { class: 'keys built', role: 'group', 'aria-label': 'find it on the wall, and say that its panels were seen to go dark' }, this.light, this.lightPanel, this.prove));
    this.slot = new Slot(desk, box, true);
  }

  choose(chosen) {
    this.chosen = chosen;
    this.draw();
  }

  rewire() { this.chosen = { panel: null, circuit: 0 }; }

  draw() {
    const { desk } = this;
    const not = desk.circuits.filter((c) => !c.proved).length;
    text(byID('unproved'), not ? `${not} unproved` : '');
    byID('unproved').title = `circuits whose breakers nobody has opened to see which panels go dark, of ${desk.circuits.length}`;
    const c = desk.circuits[this.chosen.circuit];
    if (!c) return;
    const p = this.chosen.panel === null ? null : desk.plant.panels[this.chosen.panel];
    const output = p && desk.view.outputs[p.output];
    const where = p ? `${desk.plant.walls[p.wall].name} C${p.column}R${p.row} · ${output ? `${output.name} ${percent(output.high)} ${output.state}` : 'no output'} · ` : '';
    text(this.first, `${where}circuit ${c.name} · ${c.proved ? 'proved' : 'unproved'}`);
    this.first.title = c.proved ? `proved${c.proved.by ? ` by ${c.proved.by}` : ''}, said at ${c.proved.station}${c.proved.when ? `, ${day(c.proved.when)}` : ''}` : 'nobody has opened its breaker and said which panels went dark';
    this.lightPanel.hidden = !p;
    set(this.prove, 'aria-pressed', Boolean(c.proved));
    const legs = c.legs.map((l) => `L${l}`).join(' ');
    const above = c.above ? ` · ${aboveWords(desk, c.above)}` : '';
    text(this.second, `${bare(c.worst)} of ${amps(c.limit)}${above} · board ${desk.plant.boards[c.board].name}, poles ${c.poles.join(' ')}, ${legs} · breaker ${c.breaker} A · ${c.panels} panels`);
    this.buttons.forEach((b, i) => b.setAttribute('aria-pressed', String(states[i][0] === c.service)));
    this.dark.hidden = !output || output.state === 'confirmed' || output.state === 'attested';
  }

  service(state, words) {
    const c = this.desk.circuits[this.chosen.circuit];
    this.slot.ask(`circuit ${c.name} ${words}`, 'circuit', { name: c.name, state });
  }

  // identify lights what holds the circuit or panel, and blacks out the rest; back brings the look again.
  identify(part) {
    const p = this.desk.plant.panels[this.chosen.panel];
    const name = part === 'circuit' ? this.desk.circuits[this.chosen.circuit].name : `${this.desk.plant.walls[p.wall].name} C${p.column}R${p.row}`;
    this.slot.ask(`light ${part} ${name}`, 'identify', { part, name });
  }

  // proved says that the circuit's breaker was opened and its panels went dark, or takes that back.
  proved() {
    const c = this.desk.circuits[this.chosen.circuit];
    this.slot.ask(`circuit ${c.name} is ${c.proved ? 'not proved' : 'proved'}`, 'prove', { circuit: c.name, off: Boolean(c.proved) });
  }

  attest() {
    const p = this.desk.plant.panels[this.chosen.panel];
    const { name } = this.desk.view.outputs[p.output];
    this.slot.ask(`${name} is dark`, 'attest', { output: name });
  }
}

// aboveWords says what a circuit has left of its time above its continuous limit, over all looks.
function aboveWords(desk, above) {
  const left = minutes(desk.left(above.left, above.now));
  if (above.now) return `above its continuous ${amps(above.limit)}: ${left} left`;
  const rest = above.rested > 0 ? `, rested in ${minutes(above.rested)}` : '';
  return `${left} above its continuous ${amps(above.limit)} left${rest}`;
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
