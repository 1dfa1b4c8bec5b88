// What shows on the lathe screen: number as large as it fits, wait counted down, cautions put away,
// values that wait to be sent, and a screen that stays awake.
window.midlimit = window.midlimit || {};
midlimit.board = (() => {
  const { say } = midlimit;
  const slim = matchMedia("(max-width: 760px)");
  const isSlim = () => slim.matches;
  const fitted = new Map(); // figures are equally wide: what fitted once fits again

  const MOST_SLIM = 190; // px
  const TAIL = /[gjpqyQ,;]/; // goes below the line: such a word is set smaller, to keep off what is below

  // A number has its size from the styles and shrinks where it must; a word grows up to that of numbers.
  function fit(root) {
    const headline = root.querySelector(".headline");
    if (!headline) return;
    const isWord = headline.matches(".headline-words");
    const shape = `${innerWidth} ${headline.textContent.trim().replace(/\d/g, "0")}`;
    if (!fitted.has(shape)) fitted.set(shape, fitting(headline, isWord, root));
    const { size, line } = fitted.get(shape);
    set(headline, "--fit", size);
    set(headline, "line-height", line);
  }

  function set(element, name, value) {
    if (value) element.style.setProperty(name, value);
    else element.style.removeProperty(name);
  }

  function fitting(headline, isWord, root) {
    headline.style.removeProperty("--fit");
    if (isWord) headline.style.whiteSpace = "nowrap";
    const room = headline.clientWidth;
    const taken = headline.lastElementChild.getBoundingClientRect().right - headline.getBoundingClientRect().left;
    const size = parseFloat(getComputedStyle(headline).fontSize);
    if (!isWord && taken <= room && !isSlim()) return {};
    const hasTail = isWord && TAIL.test(headline.textContent);
    const own = isWord ? parseFloat(getComputedStyle(root).getPropertyValue("--headline")) : size;
    const most = (isSlim() ? MOST_SLIM : own) * (hasTail ? 0.83 : 1);
    const line = isWord && !hasTail ? ".78" : "";
    return { size: `${Math.floor(Math.min(size * (room / taken), most))}px`, line };
  }

  function countDown(root) {
    const headline = root.querySelector(".headline[data-wait]");
    if (!headline) return;
    const until = Date.now() + 1000 * Number(headline.dataset.wait);
    const figure = headline.querySelector(".figure");
    headline.querySelector(".unit")?.remove();
    const tick = () => {
      if (!headline.isConnected) return;
      const left = Math.max(0, Math.round((until - Date.now()) / 1000));
      const text = `${Math.floor(left / 60)}:${String(left % 60).padStart(2, "0")}`;
      figure.textContent = left ? text : say("Measure");
      if (left) return setTimeout(tick, 1000);
      headline.classList.replace("headline-number", "headline-words");
      fit(root);
      root.querySelector("[data-live]").textContent = say("Waited long enough: measure again.");
    };
    tick();
  }

  // ---- cautions, dismissed for the session

  const PUT_AWAY = "midlimit-cautions";
  let putAway = []; // here too, where this browser keeps nothing

  function seen() {
    try {
      return [...putAway, ...JSON.parse(sessionStorage.getItem(PUT_AWAY) || "[]")];
    } catch {
      return putAway;
    }
  }

  function dropCautions(root) {
    root.querySelectorAll("[data-caution]").forEach((caution) => {
      if (seen().includes(caution.dataset.caution)) caution.remove();
    });
  }

  function dismiss(caution) {
    putAway = [...new Set([...seen(), caution.dataset.caution])];
    caution.remove();
    try {
      sessionStorage.setItem(PUT_AWAY, JSON.stringify(putAway));
    } catch {
      // Then only until this page is left.
    }
  }

  // The caution of a warm part stands hidden in the page until the form says that it is warm.
  function warnOfWarmth() {
    const caution = document.querySelector("[data-hot-from]");
    const said = document.getElementById("log")?.elements;
    if (!caution || !said) return;
    const degrees = parseFloat(said.temperature_value.value.replace(",", "."));
    const isHot = ["warm", "too_hot"].includes(said.touch.value) || degrees >= Number(caution.dataset.hotFrom);
    caution.hidden = !isHot;
  }
  document.addEventListener("input", warnOfWarmth);
  document.addEventListener("click", () => setTimeout(warnOfWarmth)); // a touch that was taken back

  // ---- values that wait to be sent

  const SHOWN = 5; // of them on the strip
  const BUTTONS = new Map([
    ["tool_changed", say("Tool changed")],
    ["rezeroed", say("Dial re-zeroed")],
    ["rechucked", say("Re-chucked")],
    ["go enters", say("GO enters")],
    ["go refuses", say("GO does not")],
    ["not_go enters", say("NOT GO enters")],
    ["not_go refuses", say("NOT GO does not")],
  ]);

  // What was typed, or the words of the button that was pressed.
  const shown = (entry) => BUTTONS.get(entry.shown) || entry.shown;

  function made(name, text, facts = {}) {
    const element = document.createElement(name);
    element.textContent = text;
    Object.assign(element.dataset, facts);
    if (name === "button") element.type = "button";
    return element;
  }

  function listed(entries) {
    const list = document.createElement("ol");
    for (const entry of entries.slice(0, SHOWN)) {
      const line = made("li", shown(entry));
      line.className = `is-${entry.state}`;
      list.append(line);
    }
    if (entries.length > SHOWN) list.append(made("li", say("and {n} more", { n: entries.length - SHOWN })));
    return list;
  }

  // Why the values of this feature wait; a refused one says so itself where the screen does not.
  function whyWaiting(root, here, held) {
    const count = here.length - (held ? 1 : 0);
    const isSaid = root.querySelector(".told .problems, .ask");
    const settle = say("{entry} has to be settled first", { entry: held ? shown(held) : "" });
    const reason = held?.answer?.reason;
    const why = held
      ? (!isSaid && reason && `${shown(held)}: ${reason}`) || settle
      : midlimit.outbox.trouble() || say("being sent");
    return count ? say("{n} waiting: {why}", { n: count, why }) : why;
  }

  // The way to what waits on another feature or piece.
  function wayTo(entries) {
    const held = entries.find((entry) => entry.state === "refused");
    const to = held || entries[0];
    const there = entries.filter((entry) => midlimit.outbox.isOf(entry, to));
    const values = { entry: shown(to), n: there.length, place: to.place || "" };
    const link = made("a", held ? say("{entry} to settle: {place}", values) : say("{n} waiting: {place}", values));
    link.href = to.page;
    return link;
  }

  function showWaiting(root) {
    const strip = root.querySelector("[data-waiting]");
    if (!strip) return;
    const { outbox } = midlimit;
    const all = outbox.all();
    const here = all.filter((entry) => outbox.isOf(entry, root.dataset));
    const held = here.find((entry) => entry.state === "refused");
    const away = all.filter((entry) => !here.includes(entry) && (entry.state === "refused" || outbox.isLate(entry)));
    const isTold = held || here.some(outbox.isLate);
    const words = document.createElement("p");
    words.append([word, isTold ? whyWaiting(root, here, held) : ""].filter(Boolean).join(" "));
    if (away.length) words.append(" ", wayTo(away));
    const parts = words.textContent.trim() ? [words] : [];
    if (isTold && !(held && here.length === 1)) parts.push(listed(here));
    if (held) parts.push(made("button", say("Leave out {entry}", { entry: shown(held) }), { leave: held.id }));
    strip.hidden = !parts.length;
    if (parts.length || strip.firstChild) strip.replaceChildren(...parts);
  }

  // A short sentence in the same place, for some seconds.
  const WORD_MS = 6000;
  let word = "";
  let wordTimer = 0;
  function tell(root, text) {
    word = text;
    showWaiting(root);
    clearTimeout(wordTimer);
    wordTimer = setTimeout(() => {
      word = "";
      const now = document.getElementById("lathe");
      if (now) showWaiting(now);
    }, WORD_MS);
  }

  // Sideways only: on a telephone the bar may stand at the end of the page.
  function centreTab(root) {
    const middle = (each) => each.getBoundingClientRect().left + each.clientWidth / 2;
    const tab = root.querySelector(".tabs [aria-current]");
    for (const moved of tab ? root.querySelectorAll(".bar, .tabs") : []) {
      moved.scrollLeft += middle(tab) - middle(moved);
    }
  }

  // ---- the screen

  async function stayAwake() {
    if (!("wakeLock" in navigator) || document.visibilityState !== "visible") return;
    try {
      await navigator.wakeLock.request("screen");
    } catch {
      // Refused on a low battery; nothing is lost.
    }
  }
  document.addEventListener("visibilitychange", stayAwake);

  // ---- from feature to feature: arrow keys, or a swipe across the board; turn(1) is the next one

  function onTurn(turn) {
    document.addEventListener("keydown", (event) => {
      if (event.target.matches("input, select, textarea") || event.ctrlKey || event.altKey || event.metaKey) return;
      if (event.key === "ArrowRight") turn(1);
      if (event.key === "ArrowLeft") turn(-1);
    });

    let touched = null;
    document.addEventListener("touchstart", (event) => {
      const isBoard = event.target.closest(".board, .board-first, .board-rest");
      touched = isBoard && event.touches.length === 1 ? event.touches[0] : null;
    }, { passive: true });
    document.addEventListener("touchend", (event) => {
      if (!touched) return;
      const dx = event.changedTouches[0].clientX - touched.clientX;
      const dy = event.changedTouches[0].clientY - touched.clientY;
      if (Math.abs(dx) > 70 && Math.abs(dx) > 2 * Math.abs(dy)) turn(dx < 0 ? 1 : -1);
      touched = null;
    }, { passive: true });
  }

  return { fit, isSlim, countDown, dropCautions, dismiss, showWaiting, tell, centreTab, stayAwake, onTurn };
})();
