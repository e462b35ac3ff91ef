// The one connection to the daemon: JSON-RPC 2.0 over WebSocket. It says whether what it brought is fresh, and comes back by itself.

export const staleAfter = 2000; // ms of silence, or of a daemon that does nothing
const giveUpAfter = 5000; // ms of silence on an open connection before it is made anew
const keepBlackout = 2000; // ms for which a blackout waits for a connection
const firstRetry = 250;
const lastRetry = 2000;

export class Wire {
  constructor(url) {
    this.url = url;
    this.listeners = new Map();
    this.calls = new Map();
    this.lastID = 0;
    this.heard = -Infinity;
    this.asleep = 0;
    this.retry = firstRetry;
    this.kept = new Set();
    this.open();
    setInterval(() => this.watch(), 200);
  }

  // on adds a listener for a notification, or for "link", which tells of the connection.
  on(method, listener) {
    this.listeners.set(method, [...(this.listeners.get(method) ?? []), listener]);
  }

  tell(method, params) {
    for (const l of this.listeners.get(method) ?? []) l(params);
  }

  open() {
    this.socket = new WebSocket(this.url);
    this.opened = performance.now();
    this.socket.onopen = () => this.release();
    this.socket.onmessage = (m) => this.take(JSON.parse(m.data));
    this.socket.onclose = () => this.lost();
  }

  lost() {
    for (const c of this.calls.values()) c.reject(new Error('no answer came: the connection was lost. Look at the state'));
    this.calls.clear();
    this.hadState = false;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.open(), this.retry);
    this.retry = Math.min(lastRetry, this.retry * 2);
    this.watch();
  }

  take(message) {
    this.heard = performance.now();
    if (message.method === 'alive') this.asleep = (message.params?.age ?? 0) * 1000;
    if (message.method === 'state') {
      this.hadState = true;
      this.asleep = 0;
      this.retry = firstRetry;
    }
    if (message.method) this.tell(message.method, message.params);
    else this.answer(message);
    this.watch();
  }

  answer(message) {
    const call = this.calls.get(message.id);
    this.calls.delete(message.id);
    if (message.error) call?.reject(new Error(message.error.message));
    else call?.resolve(message.result);
  }

  // silence gives how long nothing fresh has come, in ms.
  silence() {
    return Math.max(performance.now() - this.heard, this.asleep);
  }

  fresh() {
    return this.hadState === true && this.silence() < staleAfter;
  }

  watch() {
    const open = this.socket.readyState === WebSocket.OPEN;
    const waited = performance.now() - Math.max(this.heard, this.opened);
    if (this.socket.readyState < WebSocket.CLOSING && waited > giveUpAfter) this.socket.close();
    this.tell('link', { fresh: this.fresh(), open, silence: this.silence() });
  }

  // call asks, and gives the result. It fails at once where there is no connection.
  call(method, params) {
    if (this.socket.readyState !== WebSocket.OPEN) {
      return Promise.reject(new Error('not sent: no connection to the daemon'));
    }
    const id = ++this.lastID;
    return new Promise((resolve, reject) => {
      this.calls.set(id, { resolve, reject });
      this.socket.send(JSON.stringify({ jsonrpc: '2.0', method, params, id }));
    });
  }

  // blackout waits a moment for a connection that is on its way, since it can only lower.
  blackout(params) {
    if (this.socket.readyState === WebSocket.OPEN) return this.call('blackout', params);
    this.retry = firstRetry;
    return new Promise((resolve, reject) => {
      const send = () => { clearTimeout(drop); this.call('blackout', params).then(resolve, reject); };
      const drop = setTimeout(() => {
        this.kept.delete(send);
        reject(new Error('NOT SENT: no connection to the daemon. Use another station, or the devices themselves'));
      }, keepBlackout);
      this.kept.add(send);
    });
  }

  release() {
    for (const send of this.kept) send();
    this.kept.clear();
  }
}

// newest gives a function that sends values one at a time and drops all but the newest of those that came meanwhile.
export function newest(send) {
  let busy = false;
  let next;
  async function pump() {
    if (busy || next === undefined) return;
    busy = true;
    const value = next;
    next = undefined;
    try { await send(value); } finally { busy = false; pump(); }
  }
  return (value) => { next = value; pump(); };
}
