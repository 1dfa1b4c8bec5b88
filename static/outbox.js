// What was logged waits here until the server has it: in order, once each, and across a reload.
// An entry keeps its key, so sending it again can't make a second reading.
window.midlimit = window.midlimit || {};
midlimit.outbox = (() => {
  const { say } = midlimit;
  const PLACE = "midlimit-outbox";
  const RETRY_MS = 3000;
  const hearers = { saved: [], refused: [], changed: [] };
  let isSending = false;
  let timer = 0;
  let trouble = "";
  let memory = [];

  function all() {
    try {
      return JSON.parse(localStorage.getItem(PLACE)) || [];
    } catch {
      return memory;
    }
  }

  function store(entries) {
    memory = entries;
    try {
      localStorage.setItem(PLACE, JSON.stringify(entries));
    } catch {
      trouble = say("this browser can't keep it: don't leave the page");
    }
  }

  function keep(entries) {
    store(entries);
    tell("changed");
  }

  const tell = (name, ...said) => hearers[name].forEach((hear) => hear(...said));

  function newKey() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = [...bytes].map((b) => b.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
  }

  // replaced: the id of a refused entry that this one puts right; it takes that one's place.
  function add(entry, replaced) {
    const fields = new URLSearchParams(entry.body);
    fields.set("entry_key", newKey());
    const whole = { ...entry, id: fields.get("entry_key"), body: String(fields), state: "waiting" };
    const others = all().filter((other) => other.id !== replaced);
    const queue = replaced ? [whole, ...others] : [...others, whole];
    send(queue[0]); // on its way while it is being kept
    store(queue);
    tell("changed");
  }

  const drop = (id) => {
    keep(all().filter((entry) => entry.id !== id));
    send();
  };

  function settle(entry, seq) {
    keep(
      all()
        .filter((other) => other.id !== entry.id)
        .map((other) => {
          if (other.piece !== entry.piece || other.seq !== entry.seq || !seq) return other;
          const fields = new URLSearchParams(other.body);
          fields.set("last_seq", seq);
          return { ...other, seq, body: String(fields) };
        }),
    );
  }

  const refuse = (entry) =>
    keep(all().map((other) => (other.id === entry.id ? { ...other, state: "refused" } : other)));

  function later(why) {
    trouble = why;
    clearTimeout(timer);
    timer = setTimeout(() => send(), RETRY_MS);
    tell("changed");
  }

  // In one piece: fetch hands an answer over in steps that a slow tablet feels.
  function sendOne(entry) {
    return new Promise((done, fail) => {
      const asked = new XMLHttpRequest();
      asked.open("POST", entry.url);
      asked.setRequestHeader("Content-Type", "application/x-www-form-urlencoded");
      asked.setRequestHeader("HX-Request", "true");
      asked.onload = () => done({ status: asked.status, html: asked.responseText });
      asked.onerror = fail;
      asked.onabort = fail;
      asked.send(entry.body);
    });
  }

  async function send(first) {
    if (isSending) return;
    isSending = true;
    try {
      for (let entry = first || all()[0]; entry && entry.state !== "refused"; entry = all()[0]) {
        let answer;
        try {
          answer = await sendOne(entry);
        } catch {
          return later(say("no link to the server"));
        }
        if (answer.status >= 500) return later(say("the server could not save it"));
        trouble = "";
        if (answer.status < 300) {
          settle(entry, (/data-seq="(\d+)"/.exec(answer.html) || [])[1]);
          tell("saved", entry, answer.html);
        } else {
          refuse(entry);
          tell("refused", entry, answer.html);
        }
      }
    } finally {
      isSending = false;
    }
  }

  addEventListener("online", () => send());
  addEventListener("storage", (event) => event.key === PLACE && tell("changed"));
  addEventListener("load", () => send());

  return {
    add,
    all,
    drop,
    send,
    on: (name, hear) => hearers[name].push(hear),
    isSending: () => isSending,
    trouble: () => trouble,
  };
})();
