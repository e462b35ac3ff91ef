// Answers stand beside the control that asked, and stay until somebody puts them away or asks again. Only the plain "done" leaves by itself.

import { el, mark, rows, text } from './dom.js';
import { percent, place, quantity, seconds } from './words.js';

// methods turn a remedy's command into a call. A verb that is not here stays words.
const methods = {
  recall: (d) => ['recall', { name: d.target, scale: d.level }],
  arm: (d) => ['arm', { name: d.target, scale: d.level }],
  go: () => ['go', {}],
  back: () => ['back', {}],
  level: (d) => ['level', { level: d.level }],
  'zone-level': (d) => ['zoneLevel', { zone: d.target, level: d.level }],
  blackout: (d) => ['blackout', { zone: d.target || undefined }],
  worklight: () => ['worklight', {}],
  'circuit-out': (d) => ['circuit', { name: d.target, state: 'out' }],
  'circuit-in': (d) => ['circuit', { name: d.target, state: 'in' }],
  'circuit-locked-off': (d) => ['circuit', { name: d.target, state: 'locked-off' }],
  attest: (d) => ['attest', { output: d.target }],
  reload: () => ['reload', {}],
};

const endings = {
  on: 'done', superseded: 'superseded by a later command', dropped: 'dropped: what was reached stays', noted: 'noted: nothing was sent in watch mode',
};

// Slot is the place for the answers of one group of controls.
export class Slot {
  constructor(desk, parent, floating) {
    this.desk = desk;
    this.turn = 0;
    this.floating = floating;
    this.body = el('div', { class: 'note-body' });
    this.close = el('button', { type: 'button', class: 'close', 'aria-label': 'put this answer away', onclick: () => this.clear() }, '×');
    this.node = el('div', { class: floating ? 'note floating' : 'note', role: 'status', hidden: true }, this.body, this.close);
    parent.append(this.node);
  }

  clear() {
    this.turn++;
    this.node.hidden = true;
    this.body.replaceChildren();
  }

  show(kind, shape, ...parts) {
    this.node.hidden = false;
    this.node.dataset.kind = kind;
    this.body.replaceChildren(...parts.filter(Boolean));
    if (shape) this.body.firstElementChild.prepend(mark(shape));
  }

  // ask sends a command and shows what becomes of it. A quiet one shows itself only where there is something to read.
  async ask(words, method, params, { quiet = false, send } = {}) {
    const turn = ++this.turn;
    if (!quiet) this.show('pending', 'pending', el('p', { class: 'line-one' }, `${words}: asked`));
    try {
      const answer = await (send ?? ((p) => this.desk.wire.call(method, p)))(params);
      if (turn === this.turn || answer.status !== 'accepted') this.answered(words, answer, turn, quiet);
      return answer;
    } catch (fault) {
      this.turn++;
      this.show('failed', 'warn', el('p', { class: 'line-one' }, `${words}: ${fault.message}`));
      return null;
    }
  }

  answered(words, answer, turn, quiet) {
    const found = answer.findings ?? [];
    if (answer.status !== 'accepted') {
      this.turn++;
      const shape = answer.status === 'refused' ? 'refused' : 'warn';
      this.show(answer.status, shape, el('p', { class: 'line-one' }, `${words}: ${answer.status}`), findings(found, (d, w) => this.remedy(d, w)));
      return;
    }
    if (quiet && found.length === 0) {
      if (this.node.dataset.kind === 'accepted') this.clear();
      return;
    }
    const head = el('p', { class: 'line-one' }, `${words}: accepted`);
    this.show('accepted', 'admitted', head, findings(found, (d, w) => this.remedy(d, w)));
    this.desk.waiting.set(answer.id, (o) => { if (turn === this.turn) this.ended(words, head, o); });
  }

  ended(words, head, o) {
    text(head, `${words}: ${endings[o.end] ?? o.end}, ${seconds(o.took)}`);
    head.prepend(mark(o.end === 'on' ? 'admitted' : 'warn'));
    if (o.end === 'dropped') this.node.dataset.kind = 'failed';
    for (const s of o.short ?? []) {
      this.body.append(el('p', {}, `${s.output}: wanted ${percent(s.wanted)}, stands between ${percent(s.low)} and ${percent(s.high)}`));
    }
    const plain = o.end === 'on' && this.body.childElementCount === 1; // what is assumed stands at the look as well, and stays there
    if (o.assumed?.length) this.body.append(el('p', {}, `assumed, not confirmed: ${o.assumed.join(', ')}`));
    if (this.floating && plain) this.leave();
  }

  // leave puts a floating answer away that says no more than that all went as asked: it lies over other controls.
  leave() {
    const { turn } = this;
    setTimeout(() => { if (turn === this.turn) this.clear(); }, 4000);
  }

  remedy(d, words) {
    const [method, params] = methods[d.verb](d);
    this.ask(words, method, params);
  }
}

const shapes = { refuse: 'refused', warn: 'warn', note: 'note' };

// findings lists reasons with their numbers and their remedies: those for now as buttons, those for later as words.
export function findings(list, act) {
  if (!list?.length) return null;
  return el('ul', { class: 'findings' }, ...list.map((f) => finding(f, act)));
}

function finding(f, act) {
  const numbers = [quantity(f.computed), quantity(f.limit)].filter(Boolean).join(' of ');
  const item = el('li', { 'data-severity': f.severity },
    el('p', {}, mark(shapes[f.severity] ?? 'note'), el('b', {}, place(f.place)), ` ${f.sentence}`,
      numbers ? el('span', { class: 'numbers' }, numbers) : null));
  for (const r of f.remedies ?? []) {
    if (r.do && r.when === 'now' && methods[r.do.verb]) {
      item.append(el('button', { type: 'button', class: 'remedy', onclick: () => act(r.do, r.words) }, r.words));
    } else {
      item.append(el('p', { class: 'later' }, `${r.when === 'now' ? 'or' : 'later'}: ${r.words}`));
    }
  }
  return item;
}

// notices keeps the strips below the head: what a person must know whatever they do.
export function notices(desk, parent) {
  desk.add({
    draw() {
      const v = desk.view;
      const list = [];
      if (v.watch) list.push(['note', 'watch mode', 'lookgate computes and tells; it sends nothing and refuses nothing']);
      if (v.diskSick) list.push(['warn', 'raising has stopped', `${v.diskSick}. Lowering still goes. Free the disk`]);
      if (v.reload?.length) list.push(['warn', 'the last reload was refused', `${v.reload[0].replaceAll('\n', '; ')}${v.reload.length > 1 ? ` (and ${v.reload.length - 1} more)` : ''}. The site before it runs on`]);
      if (v.promise?.length) list.push(['warn', 'no promise here', v.promise.join(' · ')]);
      rows(parent, list, (n) => n[1], (n) => el('p', { class: 'notice', 'data-kind': n[0] }, mark(n[0]), el('b'), el('span')), (node, n) => {
        text(node.children[1], n[1]);
        text(node.children[2], n[2]);
        node.title = n[2];
      });
    },
  });
}
