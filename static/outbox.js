// What was logged waits here until the server has said what became of it: on every page, across a reload,
// in order for one feature of a piece, while the others go on.  An entry keeps its key, so sending it again
// can't make a second reading, and only an answer that names this key settles it.
window.midlimit = window.midlimit || {};
midlimit.outbox = (() => {
  const { say } = midlimit;
  const PLACE = "midlimit-entry "; // an item for each, so that two pages never write over each other's
  const OLD_PLACE = "midlimit-outbox"; // all in one, as it was kept before
  const MARK = "midlimit-entry"; // the header that names the entry
  const RETRY_MS = 3000;
  const TIMEOUT_MS = 10000;
  const TOLD_MS = 700; // waiting longer than this is told
  const hearers = { saved: [], refused: [], changed: [] };
  const memory = new Map(); // what this browser would not keep
  const gone = new Set();
  let isSending = false;
  let timer = 0;
  let trouble = "";
  let status = 0; // of the answer that was not for the entry

  // ---- what is kept

  function kept() {
    try {
      return Object.keys(localStorage)
        .filter((name) => name.startsWith(PLACE))
        .map((name) => read(localStorage.getItem(name)))
        .filter((entry) => entry?.id);
    } catch {
      return [];
    }
  }

  function read(text) {
    try {
      return JSON.parse(text);
    } catch {
      return null;
    }
  }

  function all() {
    const found = new Map(kept().map((entry) => [entry.id, entry]));
    memory.forEach((entry, id) => found.set(id, entry));
    gone.forEach((id) => found.delete(id));
    return [...found.values()].sort((one, other) => one.order - other.order || one.at - other.at);
  }

  const askToStay = (event) => memory.size && event.preventDefault();

  function write(entry) {
    try {
      localStorage.setItem(PLACE + entry.id, JSON.stringify(entry));
      memory.delete(entry.id);
    } catch {
      memory.set(entry.id, entry);
      addEventListener("beforeunload", askToStay);
    }
  }

  function remove(id) {
    gone.add(id);
    memory.delete(id);
    try {
      localStorage.removeItem(PLACE + id);
    } catch {
      // Not kept there either.
    }
  }

  function takeOver() {
    try {
      const old = read(localStorage.getItem(OLD_PLACE));
      (old || []).forEach((entry, order) => {
        const page = `/pieces/${entry.piece}/lathe?feature=${entry.feature}`;
        write({ ...entry, order, at: 0, page, place: entry.shown });
      });
      localStorage.removeItem(OLD_PLACE);
    } catch {
      // Nothing was kept.
    }
  }

  const tell = (name, ...said) => hearers[name].forEach((hear) => hear(...said));
  const tellChanged = () => tell("changed");

  const isOf = (entry, { piece, feature }) => entry.piece === piece && entry.feature === feature;
  const isLate = (entry) => entry.state === "waiting" && (trouble !== "" || Date.now() - entry.at >= TOLD_MS);

  function newKey() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = [...bytes].map((b) => b.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
  }

  // replaced: the id of a refused entry that this one puts right; it takes that one's place.
  function add(entry, replaced) {
    const id = newKey();
    const fields = new URLSearchParams(entry.body);
    fields.set("entry_key", id);
    const waiting = all();
    const order = waiting.find((other) => other.id === replaced)?.order ?? (waiting.at(-1)?.order || 0) + 1;
    const fresh = { id, order, at: Date.now(), body: String(fields), state: "waiting", answer: undefined };
    const whole = { ...entry, ...fresh };
    memory.set(id, whole);
    if (replaced) gone.add(replaced);
    send(); // on its way while it is being kept
    write(whole);
    if (replaced) remove(replaced);
    tellChanged();
    setTimeout(tellChanged, TOLD_MS);
  }

  function drop(id) {
    remove(id);
    tellChanged();
    send();
  }

  // ---- what is sent

  function settle(entry, seq) {
    remove(entry.id);
    if (!seq) return;
    for (const other of all()) {
      if (other.piece !== entry.piece || other.seq !== entry.seq) continue;
      const fields = new URLSearchParams(other.body);
      fields.set("last_seq", seq);
      write({ ...other, seq, body: String(fields) });
    }
  }

  // What was wrong is kept too: the words, and the parts of the screen that say them.
  function refuse(entry, html) {
    if (!all().some((other) => other.id === entry.id)) return;
    const page = new DOMParser().parseFromString(html, "text/html");
    const words =
      page.querySelector(".ask p, .told .problems, .problem") || page.querySelector("main p:not([data-live])");
    const part = (inside) => page.querySelector(inside)?.closest("[data-part]").outerHTML || "";
    const reason = words ? words.textContent.replace(/\s+/g, " ").trim() : "";
    write({ ...entry, state: "refused", answer: { reason, told: part(".told .problems"), ask: part(".ask") } });
  }

  function later(why, answered = 0) {
    trouble = why;
    status = answered;
    clearTimeout(timer);
    timer = setTimeout(send, RETRY_MS);
    tellChanged();
  }

  function whyNot(answered) {
    if (answered === 401) return say("this device is not paired");
    if (answered === 403) return say("this device may not log");
    if (answered >= 500) return say("the server could not save it");
    return say("something else answered in the server's place");
  }

  const noLink = () =>
    isSecureContext ? say("no link to the server") : say("no link to the server: keep this page open");

  // In one piece: fetch hands an answer over in steps that a slow tablet feels.
  function sendOne(entry) {
    return new Promise((done) => {
      const asked = new XMLHttpRequest();
      asked.open("POST", entry.url);
      asked.timeout = TIMEOUT_MS;
      asked.setRequestHeader("Content-Type", "application/x-www-form-urlencoded");
      asked.setRequestHeader("HX-Request", "true");
      asked.setRequestHeader(MARK, entry.id);
      asked.onload = () => {
        const isOurs = asked.getResponseHeader(MARK) === entry.id;
        done({ status: asked.status, html: asked.responseText, isOurs });
      };
      asked.onerror = asked.onabort = asked.ontimeout = () => done(null);
      asked.send(entry.body);
    });
  }

  const queueOf = (entry) => `${entry.piece} ${entry.feature}`;

  // The first that may be sent: first of its feature, neither refused nor just tried in vain.
  function next(stuck) {
    const held = new Set(stuck);
    for (const entry of all()) {
      if (entry.state !== "refused" && !held.has(queueOf(entry))) return entry;
      held.add(queueOf(entry));
    }
    return null;
  }

  async function send() {
    if (isSending) return;
    isSending = true;
    const stuck = new Set();
    try {
      for (let entry = next(stuck); entry; entry = next(stuck)) {
        const answer = await sendOne(entry);
        if (!answer) return later(noLink());
        if (!answer.isOurs) {
          stuck.add(queueOf(entry));
          later(whyNot(answer.status), answer.status);
          continue;
        }
        if (!stuck.size) [trouble, status] = ["", 0];
        if (answer.status < 300) {
          const seq = (/data-seq="(\d+)"/.exec(answer.html) || [])[1];
          settle(entry, seq);
          tell("saved", entry, answer.html, seq);
        } else {
          refuse(entry, answer.html);
          tell("refused", entry, answer.html);
        }
        tellChanged();
      }
      if (!stuck.size) trouble = "";
    } finally {
      isSending = false;
    }
  }

  takeOver();
  addEventListener("online", send);
  addEventListener("pageshow", () => {
    send();
    setTimeout(tellChanged, TOLD_MS);
  });
  addEventListener("storage", (event) => event.key?.startsWith(PLACE) && tellChanged());

  return {
    add,
    all,
    drop,
    send,
    isOf,
    isLate,
    on: (name, hear) => hearers[name].push(hear),
    isSending: () => isSending,
    isShutOut: () => status === 401 || status === 403,
    trouble: () => (memory.size ? say("this browser can't keep it: don't leave the page") : trouble),
  };
})();
