// At the lathe: log without a reload, redraw only what changed, keep what is being typed.
(() => {
  const { say, outbox, gauge, keypad, board } = midlimit;
  const root = () => document.getElementById("lathe");
  const form = () => document.getElementById("log");
  const part = (name) => root().querySelector(`[data-part="${name}"]`);
  const drafts = new Map();
  const OWN_ANSWER_MS = 250; // what this tablet logged comes back with its own answer first
  let stream = null;
  let isStale = false;
  let latest = null; // the newest answer, while parts of it are still to be put in

  // ---- redraw

  // The answer is the whole screen as text.  Only parts whose text has changed are parsed and put in, and
  // what is read while the spindle waits before the list and the drawers below it.
  const BELOW = '<div class="below">';
  const PART = /<!--\[([\w-]+)-->\s*([\s\S]*?)\s*<!--\]-->/g;
  const FRESH_KEY = /(name="entry_key" value=")[^"]*/g; // the outbox makes its own
  const ROOT = /<div id="lathe"[^>]*>/;
  let known = new Map(); // part name -> its text as it stands on the screen

  const partsOf = (html) =>
    new Map([...html.matchAll(PART)].map(([, name, text]) => [name, text.replace(FRESH_KEY, "$1")]));

  function made(text) {
    const holder = document.createElement("template");
    holder.innerHTML = text;
    return holder.content.firstElementChild;
  }

  const factsOf = (tag) => Object.fromEntries([...tag.matchAll(/data-(\w+)="([^"]*)"/g)].map(([, name, fact]) => [name, fact]));

  function apply(html) {
    const at = html.indexOf(BELOW);
    const tag = ROOT.exec(html)?.[0];
    if (at < 0 || !tag) return location.reload();
    const old = root();
    const now = factsOf(tag);
    latest = html;
    dispatchEvent(new Event("midlimit-changed"));
    if (old.dataset.feature === now.feature && form() && html.includes('<form id="log"')) {
      const below = partsOf(html.slice(at));
      putParts(partsOf(html.slice(0, at)), below);
      Object.assign(old.dataset, now);
      painted(() => latest === html && putBelow(below));
      showWaiting();
    } else {
      old.replaceWith(made(html));
      known = partsOf(html);
      ready();
      settle();
    }
  }

  const painted = (next) => requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(next)));

  const standing = () => new Map([...root().querySelectorAll("[data-part]")].map((each) => [each.dataset.part, each]));

  const unseen = () => (board.isSlim() ? "ladder-wide" : "ladder-slim");

  function putParts(fresh, later) {
    const there = standing();
    for (const [name, text] of fresh) {
      const now = there.get(name);
      const isUnseen = name === unseen();
      if (isUnseen) later.set(name, text);
      if (!now || isUnseen || known.get(name) === text) continue;
      known.set(name, text);
      const next = made(text);
      if (name === "cuts") keepCut(now, next);
      if (name === "no-cut") allowCuts(!next.hidden);
      now.replaceWith(next);
      if (name === "first") settleBoard();
      if (name === "told") board.dropCautions(root());
    }
  }

  function putBelow(fresh) {
    const there = standing();
    const list = root().querySelector(".entries");
    let above = null; // the entry that the next one stands under
    for (const [name, text] of fresh) {
      const now = there.get(name);
      const isEntry = name.startsWith("entry-");
      if (known.get(name) === text || now?.contains(document.activeElement)) {
        if (isEntry) above = now;
        continue;
      }
      const next = made(text);
      known.set(name, text);
      if (now) {
        if (now.open) next.open = true;
        now.replaceWith(next);
      } else if (isEntry && list) {
        if (above) above.after(next);
        else list.prepend(next);
      }
      if (isEntry) above = next;
    }
    for (const [name, gone] of there) if (name.startsWith("entry-") && !fresh.has(name)) gone.remove();
  }

  function allowCuts(isFirst) {
    const cuts = root().querySelector(".cuts");
    cuts.disabled = isFirst;
    cuts.classList.toggle("is-first", isFirst);
  }

  // What the user has said of the next reading stays; "as advised" only while the advice does.
  function keepCut(now, next) {
    const step = now.querySelector("[name=dial_step]")?.value;
    const said = now.querySelector("[name=cut]:checked")?.value;
    const into = next.querySelector("[name=dial_step]");
    if (into && step) into.value = step;
    const radio = said && said !== "advised" && next.querySelector(`[name=cut][value=${said}]`);
    if (radio) radio.checked = true;
  }

  function settle() {
    board.dropCautions(root());
    showWaiting();
    settleBoard();
    root().querySelector(".tabs [aria-current]")?.scrollIntoView({ block: "nearest", inline: "center" });
  }

  function settleBoard() {
    board.fit(root());
    board.countDown(root());
    announce();
  }

  function announce() {
    const board = part("board");
    const said = [".say", ".headline", ".standing", ".landing-words"]
      .map((name) => board.querySelector(name)?.textContent.replace(/\s+/g, " ").trim())
      .filter(Boolean)
      .join(". ");
    const live = root().querySelector("[data-live]");
    if (live.textContent !== said) live.textContent = said;
  }

  // ---- logging

  function entryOf(sent, submitter, value) {
    const fields = new FormData(sent);
    if (submitter?.name) fields.set(submitter.name, submitter.value);
    if (value !== undefined) fields.set("value", value);
    fields.set("last_seq", root().dataset.seq);
    const text = fields.get("value") || fields.get("dial_step") || fields.get("event") || fields.get("tried") || "";
    return {
      url: sent.getAttribute("action"),
      body: String(new URLSearchParams(fields)),
      piece: root().dataset.piece,
      feature: root().dataset.feature,
      seq: root().dataset.seq,
      shown: String(text),
    };
  }

  function clearForm() {
    const log = form();
    for (const name of ["value", "dial_step", "temperature_value", "note", "station"]) {
      if (log.elements[name]) log.elements[name].value = "";
    }
    log.querySelectorAll("input[type=radio]").forEach((radio) => {
      radio.checked = false;
    });
    for (const name of ["slide", "instrument_id", "operator"]) {
      const chosen = log.elements[name];
      if (chosen) chosen.value = ([...chosen.options].find((each) => each.defaultSelected) || chosen.options[0]).value;
    }
    if (part("told").querySelector(".problems")) {
      part("told").replaceChildren();
      known.delete("told");
    }
    if (part("ask").firstElementChild) {
      part("ask").replaceChildren();
      known.delete("ask");
    }
    log.elements.value.removeAttribute("aria-invalid");
    keypad.arm("log-value");
  }

  function logForm(submitter) {
    const log = form();
    if (!log.elements.value.value.trim()) return log.elements.value.focus();
    const entry = entryOf(log, submitter);
    outbox.add(entry, heldLike(entry)?.id);
    clearForm();
  }

  const heldLike = (entry) => outbox.all().find((other) => other.state === "refused" && other.url === entry.url);

  function logGauge(value) {
    const entry = entryOf(form(), null, value);
    const typed = form().elements.value.value;
    outbox.add(entry);
    clearForm();
    form().elements.value.value = typed;
  }

  function giveBack(entry) {
    const log = form();
    if (log.elements.value.value) return;
    const fields = new URLSearchParams(entry.body);
    for (const name of ["value", "dial_step", "temperature_value", "note", "station"]) {
      if (log.elements[name]) log.elements[name].value = fields.get(name) || "";
    }
    for (const name of ["cut", "touch"]) {
      log.querySelectorAll(`input[name="${name}"]`).forEach((radio) => {
        radio.checked = radio.value === fields.get(name);
      });
    }
  }

  const isHere = (entry) => entry.piece === root().dataset.piece && entry.feature === root().dataset.feature;

  outbox.on("changed", () => root() && showWaiting());
  outbox.on("saved", (entry, html) => isHere(entry) && apply(html));
  outbox.on("refused", (entry, html) => {
    if (!isHere(entry)) return;
    apply(html);
    if (entry.url === form()?.getAttribute("action")) giveBack(entry);
    (root().querySelector(".ask") || root().querySelector(".told .problems"))?.focus();
  });

  const showWaiting = () => board.showWaiting(root());

  document.addEventListener("submit", (event) => {
    const sent = event.target;
    if (sent.id === "log") {
      event.preventDefault();
      logForm(event.submitter);
    } else if (sent.matches("[data-outbox]")) {
      event.preventDefault();
      const entry = entryOf(sent, event.submitter);
      outbox.add(entry, heldLike(entry)?.id);
      sent.reset();
      sent.closest("details")?.removeAttribute("open");
    } else if (sent.matches("[data-fragment]")) {
      event.preventDefault();
      post(sent, event.submitter);
    }
  });

  async function post(sent, submitter) {
    const fields = new FormData(sent);
    if (submitter?.name) fields.set(submitter.name, submitter.value);
    try {
      const answer = await fetch(sent.getAttribute("action"), {
        method: "POST",
        headers: { "HX-Request": "true" },
        body: new URLSearchParams(fields),
      });
      document.activeElement?.blur();
      apply(await answer.text());
    } catch {
      root().querySelector("[data-live]").textContent = say("Not done: no link to the server.");
      submitter?.setAttribute("data-failed", "");
    }
  }

  // ---- taps

  let wasChecked = null;
  document.addEventListener("pointerdown", (event) => {
    const radio = event.target.closest(".tap")?.querySelector("input");
    wasChecked = radio?.checked ? radio : null;
  });

  document.addEventListener("click", (event) => {
    const at = event.target;
    if (at.matches(".tap input") && at === wasChecked) {
      at.checked = false;
      wasChecked = null;
    }
    const dismissed = at.closest("[data-dismiss]")?.closest("[data-caution]");
    if (dismissed) {
      board.dismiss(dismissed);
    }
    if (at.closest("[data-ask-close]")) {
      part("ask").replaceChildren();
      known.delete("ask");
      form().elements.value.focus();
    }
    if (at.dataset?.leave) {
      clearForm();
      outbox.drop(at.dataset.leave);
    }
    const link = at.closest("[data-feature-link]");
    if (link && !event.ctrlKey && !event.metaKey && !event.shiftKey) {
      event.preventDefault();
      go(link.href);
    }
  });

  document.addEventListener("input", (event) => {
    const clears = { dial_step: "cut", temperature_value: "touch" }[event.target.name];
    if (clears && event.target.value) {
      form().querySelectorAll(`input[name="${clears}"]`).forEach((radio) => {
        radio.checked = false;
      });
    }
    const empties = { cut: "dial_step", touch: "temperature_value" }[event.target.name];
    if (empties && event.target.checked && form().elements[empties]) form().elements[empties].value = "";
  });

  // ---- from feature to feature

  function keepDraft() {
    const log = form();
    if (!log) return;
    const { value, dial_step: step } = log.elements;
    drafts.set(root().dataset.feature, { value: value.value, dial_step: step ? step.value : "" });
  }

  async function look(address) {
    const answer = await fetch(address, { headers: { "HX-Request": "true" } });
    if (!answer.ok) throw new Error(String(answer.status));
    return answer.text();
  }

  async function go(address, isBack) {
    keepDraft();
    try {
      const html = await look(address);
      if (!isBack) history.pushState({}, "", address);
      apply(html);
    } catch {
      location.href = address;
    }
  }

  function neighbour(step) {
    const tabs = [...root().querySelectorAll("[data-feature-link]")];
    const now = tabs.findIndex((tab) => tab.hasAttribute("aria-current"));
    const next = tabs[now + step];
    if (next) go(next.href);
  }

  addEventListener("popstate", () => go(location.href, true));
  board.onTurn(neighbour);

  // ---- another tablet, the link, the screen

  async function refresh() {
    if (outbox.isSending()) {
      isStale = true;
      return;
    }
    isStale = false;
    try {
      apply(await look(location.href));
    } catch {
      isStale = true;
    }
  }

  function follow() {
    const address = root().dataset.stream;
    if (!address || !window.EventSource || stream) return;
    stream = new EventSource(address);
    stream.addEventListener("changed", (event) => {
      const isNew = () => event.data !== root().dataset.mark;
      if (isNew()) setTimeout(() => isNew() && refresh(), OWN_ANSWER_MS);
    });
    stream.addEventListener("open", () => {
      outbox.send();
      if (isStale) refresh();
    });
    stream.addEventListener("error", () => {
      isStale = true;
    });
  }

  function ready() {
    keypad.arm("log-value");
    const draft = drafts.get(root().dataset.feature);
    if (draft && form() && !form().elements.value.value) {
      form().elements.value.value = draft.value;
      if (form().elements.dial_step) form().elements.dial_step.value = draft.dial_step;
    }
    root().querySelectorAll("[data-plain-http]").forEach((word) => {
      word.hidden = isSecureContext;
    });
  }

  addEventListener("resize", () => board.fit(root()));
  gauge.listen(() => form()?.elements.value, logGauge);
  ready();
  settle();
  follow();
  board.stayAwake();
})();
