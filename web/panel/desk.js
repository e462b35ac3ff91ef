// What the panel knows: the newest view, the plant, and what lies between them. Every part draws from here and asks through here.

export class Desk {
  constructor(wire) {
    this.wire = wire;
    this.view = null;
    this.plant = null;
    this.parts = [];
    this.waiting = new Map(); // command ID to what wants its outcome
    wire.on('state', (view) => { this.view = whole(view); this.seen = performance.now(); this.index(); this.draw(); });
    setInterval(() => { if (this.view?.look.above?.runs) this.draw(); }, 1000);
    wire.on('plant', (plant) => { this.plant = plant; this.index(); this.rewire(); });
    wire.on('outcome', (o) => { this.waiting.get(o.id)?.(o); this.waiting.delete(o.id); });
  }

  // add takes a part: draw is called with every view, rewire with every plant.
  add(part) { this.parts.push(part); }

  draw() {
    if (!this.view || !this.plant) return;
    for (const p of this.parts) p.draw?.();
  }

  rewire() {
    for (const p of this.parts) p.rewire?.();
    this.draw();
  }

  index() {
    const { view, plant } = this;
    if (!view || !plant) return;
    this.conductors = new Map(view.conductors.map((c) => [`${c.kind} ${c.name}`, c]));
    const told = new Map(view.circuits.map((c) => [c.name, c]));
    this.circuits = plant.circuits.map((c, i) => {
      const wire = this.conductors.get(`circuit ${c.name}`);
      return { ...c, index: i, worst: wire?.worst, limit: wire?.limit, headroom: wire?.headroom, void: wire?.void, service: told.get(c.name)?.service ?? 'in', proved: told.get(c.name)?.proved ?? null, above: told.get(c.name)?.above ?? null };
    });
  }

  // left gives what is left of a time that runs, or stands still, since the view came.
  left(ns, runs) { return runs ? ns - (performance.now() - this.seen) * 1e6 : ns; }

  preset(number) { return this.view.presets.find((p) => p.number === number); }

  // tightest gives the conductors in the order in which they would bind.
  tightest() {
    return [...this.view.conductors].sort((a, b) => a.stops - b.stops || a.headroom - b.headroom);
  }
}

// whole puts an empty list where the daemon sent none.
function whole(view) {
  for (const list of ['outputs', 'zones', 'conductors', 'circuits', 'presets', 'alarms', 'promise']) view[list] ??= [];
  for (const z of view.zones) z.outputs ??= [];
  return view;
}

// share is how much of its limit something carries; without figures it is nothing, and what is drawn says so in words.
export const share = (c) => (c && c.limit > 0 ? c.worst / c.limit : 0);
