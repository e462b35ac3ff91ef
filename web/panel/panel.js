// The panel: makes the parts, and shows at every moment whether what they say is fresh.

import { byID, set, text } from './dom.js';
import { Wire } from './wire.js';
import { Desk } from './desk.js';
import { Wall } from './wall.js';
import { Boards, alarmsPart, headroomPart } from './boards.js';
import { Book, nowPart } from './book.js';
import { Hand, zonesPart } from './hand.js';
import { Inspector, recordPart } from './inspector.js';
import { notices } from './notes.js';

const scheme = location.protocol === 'https:' ? 'wss:' : 'ws:';
const desk = new Desk(new Wire(`${scheme}//${location.host}/ws${location.search}`));
const inspector = new Inspector(desk);
const wall = new Wall(desk, (c) => inspector.choose(c));
const boards = new Boards(desk, (c) => inspector.choose(c));

for (const part of [wall, boards, inspector, new Book(desk), new Hand(desk)]) desk.add(part);
nowPart(desk);
headroomPart(desk);
alarmsPart(desk);
zonesPart(desk);
recordPart(desk);
notices(desk, byID('notices'));

// always works, whatever the link says: it can only lower.
const always = '#blackout, .close';

// While what is shown is old, nothing but the blackout may be pressed: a hand must not act on what it cannot see.
let locked = true;
desk.wire.on('link', ({ fresh, open, silence }) => {
  document.body.dataset.link = fresh ? 'fresh' : 'stale';
  const since = Number.isFinite(silence) ? `for ${(silence / 1000).toFixed(0)} s` : 'yet';
  text(byID('link'), fresh ? '' : `STALE · no word from the daemon ${since}. What you see is old. ${open ? 'Connected, waiting' : 'Connecting again'}. Only blackout can be pressed`);
  if (locked === !fresh) return;
  locked = !fresh;
  for (const b of document.querySelectorAll('button, input')) if (!b.matches(always)) set(b, 'aria-disabled', locked || null);
  if (fresh) desk.draw();
});

// Presses are stopped on their way down, so that no part needs to know of the link.
const presses = ['Enter', ' ', 'ArrowLeft', 'ArrowRight', 'ArrowUp', 'ArrowDown', 'Home', 'End', 'PageUp', 'PageDown', 'g', 'G'];
for (const kind of ['click', 'input', 'change', 'pointerdown', 'keydown']) {
  document.addEventListener(kind, (e) => {
    const control = e.target.closest?.('button, input, [tabindex]');
    const acts = kind === 'keydown' ? presses.includes(e.key) : control;
    if (!locked || !acts || control?.matches(always)) return;
    e.stopImmediatePropagation();
    e.preventDefault();
  }, true);
}
