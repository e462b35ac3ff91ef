// Numbers as people read them. A figure that is missing is a dash, never a nought.

const known = (v) => typeof v === 'number' && Number.isFinite(v);

export const amps = (a) => (known(a) ? `${a.toFixed(1)} A` : '–');
export const bare = (a) => (known(a) ? a.toFixed(1) : '–');
export const percent = (l) => (known(l) ? `${trimmed(l * 100)} %` : '–');

function trimmed(v) {
  const r = Math.round(v * 10) / 10;
  return Number.isInteger(r) || v >= 10 ? String(Math.round(v)) : r.toFixed(1);
}

// stops says how much light is left; what nothing binds is open.
export function stops(s) {
  if (!known(s)) return '–';
  if (s > 10) return 'open';
  return `${s < 0 ? '−' : '+'}${Math.abs(s).toFixed(1)} stops`;
}

// seconds takes nanoseconds, as the daemon tells times.
export const seconds = (ns) => (known(ns) ? `${(ns / 1e9).toFixed(1)} s` : '–');

// minutes says how long something may go on: whole minutes, and from two minutes on downwards with their seconds.
export function minutes(ns) {
  if (!known(ns)) return '–';
  const s = Math.max(0, Math.floor(ns / 1e9));
  if (s >= 120) return `${Math.floor(s / 60)} min`;
  return s >= 60 ? `1 min ${s - 60} s` : `${s} s`;
}

// quantity writes a finding's number with its unit.
export function quantity(q) {
  if (!q || !q.unit) return '';
  switch (q.unit) {
    case 'A': return amps(q.value);
    case 'level': return percent(q.value);
    case 'count': return String(q.value);
    case 's': return minutes(q.value * 1e9);
    case 'b/s': return q.value >= 1e9 ? `${(q.value / 1e9).toFixed(3)} Gb/s` : `${(q.value / 1e6).toFixed(1)} Mb/s`;
    default: return `${Math.round(q.value * 10) / 10} ${q.unit}`;
  }
}

// place is "circuit A07".
export const place = (p) => [p?.kind, p?.name].filter(Boolean).join(' ');

// clock gives the time of day of a line of the record, as the browser's own clock has it.
export function clock(at) {
  const d = new Date(at);
  return Number.isNaN(d.getTime()) ? '' : d.toLocaleTimeString([], { hour12: false });
}

// day gives the day and time of seconds since 1970, as the browser's own clock has them.
export function day(unix) {
  const d = new Date(unix * 1000);
  return Number.isNaN(d.getTime()) ? '' : d.toLocaleString([], { dateStyle: 'medium', timeStyle: 'short', hour12: false });
}
