// What this tab knows, and how it asks the server to change it. Changes go out one after the other, each made on the
// newest state that this tab has seen; nothing typed is dropped while the server is away.

const TAB = crypto.getRandomValues(new Uint32Array(2)).join("-");
const listeners = new Set();
const waiting = [];
let sending = false;

export const store = {form: null, state: null, answer: null, away: false};

export const listen = (listener) => listeners.add(listener);
const tell = (what) => listeners.forEach((listener) => listener(what));

export async function ask(place, body) {
  const given = body === undefined ? {} : {
    method: "POST", keepalive: true, headers: {"content-type": "application/json"}, body: JSON.stringify(body),
  };
  const answer = await fetch(place, {cache: "no-store", ...given});
  if (!answer.ok) throw new Error(`${place}: ${answer.status}`);
  return answer.json();
}

export async function start() {
  store.form = await ask("form");
  take(await ask("state"));
  watch();
}

function take(state) {
  if (store.state && state.revision < store.state.revision) return;
  store.state = state;
  tell("state");
}

// --- what happens elsewhere

let events = null;

function watch() {
  document.addEventListener("visibilitychange", () => (document.hidden ? hush() : hear()));
  hear();
}

function hush() {
  if (events) events.close();
  events = null;
}

function hear() {
  hush();
  events = new EventSource("events");
  events.onopen = () => away(false);
  events.onerror = () => away(true);
  events.onmessage = (message) => notice(JSON.parse(message.data));
}

async function notice(status) {
  away(false);
  if (!store.state) return;
  if (status.revision > store.state.revision && !sending) take(await ask("state"));
  else if (status.revision === store.state.revision) {
    Object.assign(store.state, status);
    tell("status");
  }
  if (status.answered && (!store.answer || store.answer.revision !== status.answered)) {
    store.answer = await ask("answer");
    tell("answer");
  }
}

function away(is) {
  if (store.away === is) return;
  store.away = is;
  tell("away");
}

// --- changes

// Make changes in the job; resolves to whether they were made. `label` says what they are, `session` joins the
// changes of one stretch of typing to one step back. Changes are meant for the state in which they are asked for; those
// of a field, and those given as a function, for the state in which they are sent.
export function change(changes, label, session = "") {
  const base = session || typeof changes === "function" ? undefined : store.state.revision;
  return send({place: "edit", changes, base, body: {label, session: session && `${TAB}:${session}`}});
}

export const undo = () => send({place: "undo", body: {}});
export const redo = () => send({place: "redo", body: {}});
export const overwrite = () => send({place: "overwrite", body: {}});

function send(job) {
  return new Promise((done) => {
    waiting.push({...job, done});
    tell("busy");
    run();
  });
}

async function run() {
  if (sending) return;
  sending = true;
  while (waiting.length) {
    const job = waiting[0];
    let state;
    try {
      if (job.changes) job.body.changes = typeof job.changes === "function" ? job.changes() : job.changes;
      state = await ask(job.place, {base: job.base ?? store.state.revision, ...job.body});
    } catch (error) {
      away(true);
      await new Promise((wake) => setTimeout(wake, 1500));
      continue;
    }
    waiting.shift();
    away(false);
    const refused = state.refused;
    delete state.refused;
    take(state);
    if (refused) tell({refused, job});
    job.done(!refused);
  }
  sending = false;
  tell("busy");
}

export const busy = () => sending || waiting.length > 0;

// --- places in the job

export function at(path, from = store.state.job) {
  let here = from;
  for (const step of path) {
    if (here === null || typeof here !== "object") return undefined;
    here = here[step];
  }
  return here;
}

export const name = (path) => path.join(".");
