// The presets with their verdicts, and the folio: one preset, its findings and what may be done about them.

import { byID, el, mark, rows, set, text } from './dom.js';
import { Slot, findings } from './notes.js';
import { minutes, seconds, stops } from './words.js';

export class Book {
  constructor(desk) {
    this.desk = desk;
    this.open = null; // preset number; null follows the look
    this.list = byID('presets');
    this.list.addEventListener('keydown', (e) => this.key(e));
    this.title = el('h3');
    this.verdict = el('p', { class: 'verdict' });
    this.reasons = el('div', { class: 'reasons' });
    this.arm = el('button', { type: 'button', onclick: () => this.ask('arm') }, 'arm');
    this.recall = el('button', { type: 'button', onclick: () => this.ask('recall') }, 'recall now');
    byID('folio').append(this.title, this.verdict, el('div', { class: 'keys' }, this.arm, this.recall), this.reasons);
    this.slot = new Slot(desk, byID('folio'), false);
    byID('folio').insertBefore(this.slot.node, this.reasons);
    byID('folio').hidden = true;
  }

  choose(number) {
    if (this.open !== number) this.slot.clear();
    this.open = number;
    this.draw();
    this.list.kept.get(number)?.scrollIntoView({ block: 'nearest' });
  }

  ask(verb) {
    const p = this.shown();
    this.slot.ask(`${verb} ${p.number}`, verb, { preset: p.number });
  }

  shown() {
    const { view } = this.desk;
    return this.desk.preset(this.open ?? (view.look.preset || view.armed)) ?? view.presets[0];
  }

  draw() {
    const { view } = this.desk;
    const shown = this.shown();
    rows(this.list, view.presets, (p) => p.number, (p) => this.row(p.number), (node, p) => drawRow(node, p, view, shown?.number));
    byID('folio').hidden = !shown;
    if (shown) this.folio(shown);
  }

  row(number) {
    return el('button', { type: 'button', class: 'preset', 'data-number': number, onclick: () => this.choose(number) },
      el('span', { class: 'number' }), el('span', { class: 'name' }), el('span', { class: 'where' }), el('span', { class: 'verdict' }));
  }

  folio(p) {
    text(this.title, `${p.number} ${p.name}`);
    verdict(this.verdict, p, p.binding ? ` · ${limitWords(p)}` : '');
    text(this.recall, p.admitted ? 'recall now' : 'recall (refused)');
    set(this.recall, 'data-refused', !p.admitted);
    const key = JSON.stringify([p.number, p.findings]);
    if (this.key0 === key) return; // so that a remedy under a finger does not move
    this.key0 = key;
    this.reasons.replaceChildren(findings(p.findings, (d, w) => this.slot.remedy(d, w)) ?? '');
  }

  key(e) {
    const step = { ArrowDown: 1, ArrowUp: -1 }[e.key];
    const buttons = [...this.list.children];
    const next = buttons[buttons.indexOf(document.activeElement) + step];
    if (!step || !next) return;
    e.preventDefault();
    next.focus();
    this.choose(Number(next.dataset.number));
  }
}

const limitWords = (p) => (p.cap > 0 ? `passes up to ${Math.floor(p.cap * 100 + 1e-6)} %; ${p.binding} binds` : `no level passes; ${p.binding} binds`);

function verdict(node, p, more) {
  const warned = p.admitted && p.findings?.some((f) => f.severity === 'warn');
  const kind = p.admitted ? 'admitted' : 'refused';
  if (node.dataset.kind !== kind || node.dataset.warned !== String(warned)) {
    node.dataset.kind = kind;
    node.dataset.warned = String(warned);
    node.replaceChildren(mark(kind), el('span'), warned ? el('span', { class: 'warned' }, mark('warn'), 'with a warning') : '');
  }
  text(node.children[1], kind + more);
}

function drawRow(node, p, view, shown) {
  const [number, name, where, word] = node.children;
  text(number, String(p.number));
  text(name, p.name);
  const places = [];
  if (view.look.preset === p.number) places.push(view.look.state === 'on' ? 'on' : view.look.state);
  if (view.armed === p.number) places.push('armed');
  text(where, places.join(', '));
  verdict(word, p, '');
  set(node, 'data-on', view.look.preset === p.number);
  set(node, 'data-armed', view.armed === p.number);
  set(node, 'aria-current', shown === p.number || null);
}

// nowPart is what a glance from three metres takes in: the look, whether it is on, and what is left.
export function nowPart(desk) {
  desk.add({ draw() { drawLook(desk, desk.view); drawTightest(desk); } });
}

const says = { none: 'no look is on', pending: 'pending', on: 'on', short: 'short: not known to be as asked' };
const shapes = { none: 'note', pending: 'pending', on: 'admitted', short: 'warn' };

function drawLook(desk, view) {
  const { look, running } = view;
  text(byID('site'), view.site);
  text(byID('look-number'), look.preset ? String(look.preset) : '');
  text(byID('look-name'), look.preset ? look.name : look.identify ? `finding ${look.identify}` : 'no look');
  const words = [look.blackout && look.state === 'on' ? 'reached' : says[look.state] ?? look.state];
  if (look.blackout) words.unshift('blackout: everything is wanted dark');
  if (running?.waiting) words.push(`waiting for ${running.waiting}, ${seconds(view.at - running.since)}`);
  else if (look.state === 'pending') words.push('not confirmed yet');
  if (look.above) words.push(aboveWords(desk, look.above));
  if (look.credit) words.push('on credit: counts on its picture');
  if (look.assumed) words.push('assumed');
  if (look.preset) words.push(`level ${Math.round(look.scale * 100)} %`);
  drawState(byID('look-state'), look.state, words.join(' · '));
  set(byID('look-state'), 'data-state', look.state);
  set(byID('look-state'), 'data-blackout', look.blackout);
  document.title = look.preset ? `${look.preset} ${look.name}` : 'lookgate';
}

// aboveWords says how long the look may stay above the continuous limits of its circuits, and what happens then.
function aboveWords(desk, above) {
  const left = `above continuous: ${minutes(desk.left(above.left, above.runs))} left`;
  return above.runs ? `${left}, then brought down` : `${left}, not running`;
}

function drawState(node, state, words) {
  if (node.dataset.shape !== state) {
    node.dataset.shape = state;
    node.replaceChildren(mark(shapes[state] ?? 'note'), el('span'));
  }
  text(node.lastElementChild, words);
}

function drawTightest(desk) {
  const c = desk.conductors.get(desk.view.look.worst) ?? desk.tightest()[0];
  const box = byID('tight');
  if (!c) return;
  const over = c.headroom < 0;
  text(byID('tight-amps'), over ? `over by ${(-c.headroom).toFixed(1)} A` : `${c.headroom.toFixed(1)} A`);
  text(byID('tight-stops'), c.void ? 'no promise' : stops(c.stops));
  text(byID('tight-name'), `${c.kind} ${c.name}: ${c.worst.toFixed(1)} of ${c.limit.toFixed(1)} A`);
  set(box, 'data-over', over);
}
