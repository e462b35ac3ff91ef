// The boards as their doors show them: odd poles left and even ones right, or ways in rows.

import { byID, el, mark, rows, set, text } from './dom.js';
import { loadColour } from './ramp.js';
import { share } from './desk.js';
import { amps, bare, stops } from './words.js';

export class Boards {
  constructor(desk, choose) {
    this.desk = desk;
    this.choose = choose;
    this.shown = 0; // a board, or -1 for the record
  }

  rewire() {
    const { boards } = this.desk.plant;
    if (this.shown >= boards.length) this.shown = 0;
    const tabs = boards.map((b, i) => this.tab(`board ${b.name}`, i));
    byID('tabs').replaceChildren(...tabs, this.tab('record', -1));
    this.door();
  }

  tab(words, i) {
    return el('button', { type: 'button', role: 'tab', 'data-tab': i, onclick: () => { this.shown = i; this.door(); this.draw(); } }, words);
  }

  door() {
    for (const t of byID('tabs').children) set(t, 'aria-selected', Number(t.dataset.tab) === this.shown);
    document.body.dataset.side = this.shown < 0 ? 'record' : 'board';
    const board = this.desk.plant.boards[Math.max(0, this.shown)];
    if (!board) return;
    this.mains = el('div', { class: 'mains' });
    this.ways = [];
    const grid = board.numbering === 'odd-even' ? this.oddEven(board) : this.inRows(board);
    byID('board').replaceChildren(this.mains, grid);
  }

  // oddEven puts poles in two columns; what stands on neighbouring rows of one column is one place.
  oddEven(board) {
    const single = this.desk.plant.circuits.some((c) => c.poles.length === 1);
    const grid = el('div', { class: single ? 'door single' : 'door' });
    for (const side of [0, 1]) {
      for (const g of runs(board.poles.filter((p) => p.pole % 2 !== side))) {
        const way = this.way(g);
        way.style.gridColumn = String(side + 1);
        way.style.gridRow = `${Math.ceil(g[0].pole / 2)} / span ${g.length}`;
        grid.append(way);
      }
    }
    return grid;
  }

  inRows(board) {
    return el('div', { class: 'door ways' }, ...runs(board.poles).map((g) => {
      const way = this.way(g);
      if (g.length > 1) way.style.gridColumn = `span ${g.length}`;
      return way;
    }));
  }

  way(poles) {
    const numbers = el('span', { class: 'poles' }, poles.map((p) => p.pole).join(' '));
    const legs = el('span', { class: 'legs' }, poles.map((p) => `L${p.leg}`).join(' '));
    if (poles[0].circuit < 0) return el('div', { class: 'way spare' }, numbers, el('span', { class: 'name' }, 'spare'));
    const parts = { name: el('span', { class: 'name' }), load: el('span', { class: 'load' }), bar: el('span', { class: 'bar' }) };
    const node = el('button', { type: 'button', class: 'way', onclick: () => this.choose({ panel: null, circuit: poles[0].circuit }) },
      numbers, parts.name, legs, parts.load, el('span', { class: 'track' }, parts.bar));
    this.ways.push({ node, poles, index: poles[0].circuit, ...parts });
    return node;
  }

  draw() {
    const board = this.desk.plant.boards[Math.max(0, this.shown)];
    if (!board || !this.ways) return;
    for (const w of this.ways) drawWay(w, this.desk.circuits[w.index]);
    const names = [...new Set(board.poles.map((p) => p.leg))].sort().map((l) => [`leg ${board.name} L${l}`, `L${l}`]);
    const mains = [...names, [`neutral ${board.name} N`, 'N']].map(([key, short]) => ({ short, c: this.desk.conductors.get(key) })).filter((m) => m.c);
    rows(this.mains, mains, (m) => m.short, () => el('p', {}, el('b'), el('span')), (node, m) => {
      text(node.children[0], m.short);
      text(node.children[1], `${m.c.worst.toFixed(0)} / ${m.c.limit.toFixed(0)} A`);
      set(node, 'class', share(m.c) > 1 + 1e-9 ? 'over' : null);
    });
  }
}

// runs groups poles that follow one another and carry the same circuit.
function runs(poles) {
  const groups = [];
  for (const p of poles) {
    const last = groups.at(-1);
    if (last && p.circuit >= 0 && last[0].circuit === p.circuit) last.push(p);
    else groups.push([p]);
  }
  return groups;
}

function drawWay(w, c) {
  if (!c) return;
  const over = share(c) > 1 + 1e-9;
  text(w.name, c.name);
  text(w.load, c.service === 'in' ? `${bare(c.worst)}/${bare(c.limit)} A` : c.service.replace('-', ' '));
  w.bar.style.width = `${Math.min(100, share(c) * 100)}%`;
  w.bar.style.backgroundColor = loadColour(share(c));
  set(w.node, 'data-service', c.service);
  set(w.node, 'data-over', over);
  set(w.node, 'aria-label', `circuit ${c.name}, poles ${c.poles.join(' and ')}, ${bare(c.worst)} of ${amps(c.limit)}, ${c.service}${over ? ', over its limit' : ''}${c.proved ? '' : ', unproved'}`);
}

// headroomPart lists what would bind first.
export function headroomPart(desk) {
  const heads = [['name', ''], ['', ''], ['load', 'A of limit'], ['left', 'A left'], ['light', 'stops']];
  byID('headroom').before(el('p', { class: 'conductor heads' }, ...heads.map(([name, words]) => el('span', { class: name }, words))));
  desk.add({
    draw() {
      const list = desk.tightest().slice(0, 12);
      rows(byID('headroom'), list, (c) => `${c.kind} ${c.name}`, () => row(), (node, c) => drawRow(node, c));
    },
  });
}

function row() {
  return el('p', { class: 'conductor' }, el('span', { class: 'name' }), el('span', { class: 'track' }, el('span', { class: 'bar' })),
    el('span', { class: 'load' }), el('span', { class: 'left' }), el('span', { class: 'light' }));
}

// shortName fits a narrow column and still tells any two conductors apart: a board's name or a circuit's says most of it, and there is one supply.
function shortName(c) {
  switch (c.kind) {
    case 'circuit': return c.name;
    case 'neutral': return `neutral ${c.name.replace(/ N$/, '')}`;
    case 'supply leg':
    case 'supply neutral': return `supply ${c.name.slice(c.name.lastIndexOf(' ') + 1)}`;
    default: return `${c.kind} ${c.name}`;
  }
}

function drawRow(node, c) {
  const [name, track, load, left, light] = node.children;
  const over = c.headroom < 0;
  text(name, shortName(c));
  track.firstElementChild.style.width = `${Math.min(100, share(c) * 100)}%`;
  track.firstElementChild.style.backgroundColor = loadColour(share(c));
  text(load, `${bare(c.worst)} / ${bare(c.limit)}`);
  text(left, over ? `over ${bare(-c.headroom)}` : bare(c.headroom));
  text(light, c.void ? 'void' : stops(c.stops).replace(' stops', ''));
  set(node, 'data-over', over);
  node.title = `${c.kind} ${c.name}: ${c.by}`;
}

// alarmsPart tells what is wrong and what a person should do.
export function alarmsPart(desk) {
  desk.add({
    draw() {
      const { alarms } = desk.view;
      set(byID('alarms').parentElement, 'data-any', alarms.length > 0);
      const list = alarms.length ? alarms : [{ key: ' none', sentence: 'none' }];
      rows(byID('alarms'), list, (a) => a.key, (a) => (a.key === ' none' ? el('p', { class: 'calm' }, 'none') : alarm()), (node, a) => {
        if (a.key === ' none') return;
        text(node.querySelector('b'), `${a.place?.kind ?? ''} ${a.place?.name ?? ''}`.trim());
        text(node.querySelector('.says'), a.sentence);
        text(node.querySelector('.do'), a.do ? `do: ${a.do}` : '');
      });
    },
  });
}

function alarm() {
  return el('div', { class: 'alarm' }, el('p', {}, mark('warn'), el('b'), ' ', el('span', { class: 'says' })), el('p', { class: 'do' }));
}
