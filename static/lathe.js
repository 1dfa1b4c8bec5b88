// At the lathe: log without a reload, redraw only what changed, keep what is being typed.
(() => {
  const { say, outbox, gauge, keypad, board } = midlimit;
  const root = () => document.getElementById("lathe");
  const form = () => document.getElementById("log");
  const part = (name) => root().querySelector(`[data-part="${name}"]`);
  const drafts = new Map();
  const OWN_ANSWER_MS = 250; // what this tablet logged comes back with its own answer first
  const LINK_MS = 10000; // without an answer the link is taken as gone
  let stream = null;
  let isStale = false;
  let latest = null; // the newest answer, while parts of it are still to be put in
  let given = ""; // the refused entry whose values are in the form again
  let aside = ""; // what was typed meanwhile
  let waved = ""; // the refused entry whose question was closed

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

  const FACT = /data-(\w+)="([^"]*)"/g;
  const factsOf = (tag) => Object.fromEntries([...tag.matchAll(FACT)].map(([, name, fact]) => [name, fact]));

  // Puts an answer in, then goes on; false for anything but a screen of the lathe.
  function apply(html, then = () => {}) {
    const at = html.indexOf(BELOW);
    const tag = ROOT.exec(html)?.[0];
    if (at < 0 || !tag) return false;
    const old = root();
    const now = factsOf(tag);
    latest = html;
    dispatchEvent(new Event("midlimit-changed"));
    if (old.dataset.feature === now.feature && form() && html.includes('<form id="log"')) {
      const below = partsOf(html.slice(at));
      putParts(partsOf(html.slice(0, at)), below);
      Object.assign(old.dataset, now);
      painted(() => {
        if (latest === html) putBelow(below);
        then();
      });
      showHeld();
      showWaiting();
    } else {
      const had = document.activeElement;
      old.replaceWith(made(html));
      known = partsOf(html);
      document.title = `${root().dataset.title} · Midlimit`;
      ready();
      settle();
      if (!had.isConnected) focusOn(root().querySelector(".ask") || root().querySelector(".tabs [aria-current]"));
      then();
    }
    return true;
  }

  // Where the focus goes when what had it was swapped away.
  function focusOn(element) {
    (element || document.getElementById("main")).focus({ preventScroll: true });
  }

  const isFocusLost = () => !document.activeElement || document.activeElement === document.body;

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
      if (name === "fill") keypad.nameFill();
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
    board.centreTab(root());
  }

  function settleBoard() {
    board.countDown(root());
    board.fit(root());
    announce();
  }

  function announce() {
    const board = part("board");
    const textOf = (each) => each.textContent.replace(/\s+/g, " ").trim();
    const inParts = (name) => [...board.querySelectorAll(`${name} > *`)].map(textOf).join(", ");
    const whole = (name) => textOf(board.querySelector(name));
    const said = [whole(".say"), whole(".headline"), inParts(".standing"), inParts(".landing-words")]
      .filter(Boolean)
      .join(". ");
    const live = root().querySelector("[data-live]");
    if (live.textContent !== said) live.textContent = said;
  }

  // ---- logging

  const pageOf = (screen) => `/pieces/${screen.dataset.piece}/lathe?feature=${screen.dataset.feature}`;

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
      page: pageOf(root()),
      place: [...root().querySelectorAll("h1, .tabs [aria-current] b")]
        .map((each) => each.textContent.replace(/\s+/g, " ").trim())
        .join(", "),
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
    closeAsk();
    log.elements.value.value = aside;
    given = aside = "";
    log.elements.value.removeAttribute("aria-invalid");
    keypad.nameFill();
    keypad.arm("log-value");
  }

  function closeAsk() {
    if (part("ask").firstElementChild) {
      part("ask").replaceChildren();
      known.delete("ask");
    }
    fence();
  }

  // While a question is open there is nothing else to press.
  function fence() {
    const isOpen = Boolean(root().querySelector(".ask"));
    root().querySelectorAll(".bar, .board, .taken, .reading, .pad, .below").forEach((each) => {
      if (each.inert !== isOpen) each.inert = isOpen;
    });
  }

  function logForm(submitter) {
    const log = form();
    const held = heldHere();
    if (held && submitter?.closest(".ask")) return logAnswer(held, submitter);
    if (!log.elements.value.value.trim()) return log.elements.value.focus();
    const isPutRight = held?.id === given && !root().querySelector(".ask");
    outbox.add(entryOf(log, submitter), isPutRight ? given : undefined);
    clearForm();
  }

  // The entry that was asked about, with the answer; what has been typed since is another one.
  function logAnswer(held, submitter) {
    const fields = new URLSearchParams(held.body);
    fields.set(submitter.name, submitter.value);
    fields.set("last_seq", root().dataset.seq);
    if (given !== held.id) aside = form().elements.value.value;
    outbox.add({ ...held, seq: root().dataset.seq, body: String(fields) }, held.id);
    clearForm();
  }

  const heldHere = () =>
    outbox.all().find((entry) => entry.state === "refused" && outbox.isOf(entry, root().dataset));

  function logGauge(value) {
    const entry = entryOf(form(), null, value);
    const typed = form().elements.value.value;
    const [was, before] = [given, aside];
    outbox.add(entry);
    clearForm();
    form().elements.value.value = typed;
    [given, aside] = [was, before];
    showHeld();
  }

  // What a refused entry held goes back into its form, to be put right; what is typed there now stays.
  function giveBack(held, isAsked) {
    const forms = [...root().querySelectorAll("form")];
    const into = forms.find((each) => each.getAttribute("action") === held.url);
    if (!into) return;
    const fields = new URLSearchParams(held.body);
    const typed = into.elements.value?.value || "";
    const isOther = typed !== "" && typed !== fields.get("value");
    if (isOther && !isAsked) return;
    if (isOther) aside = typed;
    for (const each of into.elements) {
      if (each.type === "radio") each.checked = each.value === fields.get(each.name);
      else if (each.matches("[type=text], select") && fields.has(each.name)) each.value = fields.get(each.name);
    }
    given = held.id;
    if (into === form()) keypad.nameFill();
    else into.closest("details")?.setAttribute("open", "");
  }

  // A refused entry of this feature shows why, its question and its values, after a reload too.
  function showHeld() {
    const held = heldHere();
    if (held && form()) {
      for (const name of ["told", "ask"]) {
        const text = held.answer?.[name];
        const isShown = part(name).querySelector(".problems, .ask");
        if (!text || isShown || (name === "ask" && waved === held.id)) continue;
        part(name).replaceWith(made(text));
        known.delete(name);
        board.dropCautions(root());
      }
    }
    if (held && given !== held.id) giveBack(held);
    fence();
  }

  const isHere = (entry) => outbox.isOf(entry, root().dataset);

  outbox.on("changed", () => {
    if (heldHere() && given === "") showHeld();
    showWaiting();
  });
  outbox.on("saved", (entry, html, seq) => {
    if (isHere(entry)) apply(html);
    else if (seq && entry.piece === root().dataset.piece && entry.seq === root().dataset.seq) {
      root().dataset.seq = seq;
    }
  });
  outbox.on("refused", (entry, html) => {
    if (!isHere(entry)) return;
    apply(html);
    showHeld();
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
      const held = heldHere();
      outbox.add(entryOf(sent, event.submitter), held && held.id === given ? given : undefined);
      given = "";
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
    const at = (submitter || sent).closest("[data-part]")?.dataset.part;
    const failed = (why) => board.tell(root(), why);
    try {
      const answer = await fetch(sent.getAttribute("action"), {
        method: "POST",
        headers: { "HX-Request": "true" },
        body: new URLSearchParams(fields),
        signal: inTime(),
      });
      const html = await answer.text();
      const had = document.activeElement;
      const isIn = had !== document.body && (had === submitter || had.closest(`[data-part="${at}"]`));
      if (isIn) had.blur(); // what has the focus is not swapped
      const isDone = apply(html, () => isIn && isFocusLost() && focusOn(focusable(at)));
      if (!isDone) failed(say("Not done: the server could not do it."));
    } catch {
      failed(say("Not done: no link to the server."));
    }
  }

  const inTime = () => AbortSignal.timeout?.(LINK_MS);

  function focusable(name) {
    const at = name && part(name);
    if (!at) return null;
    const inside = at.querySelector("summary, button, a");
    if (!inside && !at.matches("[tabindex]")) at.tabIndex = -1;
    return inside || at;
  }

  // ---- taps

  function changeAsked() {
    const held = heldHere();
    waved = held?.id || "";
    closeAsk();
    if (held && given !== held.id) giveBack(held, true);
    form().elements.value.focus();
  }

  let wasChecked = null;
  let unchecked = null; // by the space bar that is still held
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && root().querySelector(".ask")) changeAsked();
    if (event.key !== " " || !event.target.matches(".tap :checked")) return;
    event.preventDefault();
    unchecked = event.target;
    unchecked.checked = false;
    unchecked.dispatchEvent(new Event("input", { bubbles: true }));
  });
  document.addEventListener("keyup", (event) => {
    if (event.key === " " && event.target === unchecked) event.preventDefault();
    unchecked = null;
  });
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
      const had = dismissed.contains(document.activeElement);
      board.dismiss(dismissed);
      if (had) focusOn([...root().querySelectorAll("[data-dismiss]")].find((each) => each.getClientRects().length));
    }
    if (at.closest("[data-ask-close]")) changeAsked();
    if (at.dataset?.leave) {
      if (given !== at.dataset.leave && form()) aside = form().elements.value.value;
      if (form()) clearForm();
      outbox.drop(at.dataset.leave);
      if (isFocusLost()) focusOn();
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

  const look = (address) => fetch(address, { headers: { "HX-Request": "true" }, signal: inTime() });

  // The copy that was kept for a start without the server, where there is one.
  async function copyOf(address) {
    try {
      return await (await caches.match(address)).text();
    } catch {
      return "";
    }
  }

  async function go(address, isBack) {
    keepDraft();
    const { piece, seq } = root().dataset;
    let html = "";
    let isLinked = true;
    try {
      const answer = await look(address);
      html = await answer.text();
      if (!answer.ok || !ROOT.test(html)) return (location.href = address);
    } catch {
      isLinked = false;
      isStale = true;
      html = await copyOf(address);
      html = html.slice(html.search(ROOT));
    }
    const isFound = ROOT.test(html);
    if (isFound) {
      if (!isBack) history.pushState({}, "", address);
      apply(html);
    } else if (isBack) {
      history.pushState({}, "", pageOf(root()));
    }
    if (isLinked) return;
    const { dataset } = root(); // a copy may be older than what was seen of the piece since
    if (dataset.piece === piece) dataset.seq = Math.max(dataset.seq, seq);
    board.tell(
      root(),
      isFound ? say("No link: this is the last copy.") : say("No link to the server: stay here, what you log is kept."),
    );
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
      const answer = await look(pageOf(root()));
      isStale = !answer.ok || !apply(await answer.text());
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
    given = aside = "";
    showHeld();
    keypad.nameFill();
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
