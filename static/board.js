// What shows on the lathe screen: number as large as it fits, wait counted down, cautions put away,
// values that wait to be sent, and a screen that stays awake.
window.midlimit = window.midlimit || {};
midlimit.board = (() => {
  const { say } = midlimit;
  const slim = matchMedia("(max-width: 760px)");
  const isSlim = () => slim.matches;
  const fitted = new Map(); // figures are equally wide: what fitted once fits again

  function fit(root) {
    const headline = root.querySelector(".headline-number");
    if (!headline) return;
    const shape = `${innerWidth} ${headline.textContent.replace(/\d/g, "0")}`;
    const known = fitted.get(shape);
    if (known !== undefined) return known && headline.style.setProperty("--fit", known);
    headline.style.removeProperty("--fit");
    fitted.set(shape, "");
    const room = headline.clientWidth;
    const taken = headline.lastElementChild.getBoundingClientRect().right - headline.getBoundingClientRect().left;
    const size = parseFloat(getComputedStyle(headline).fontSize);
    if (taken > room || isSlim()) {
      fitted.set(shape, `${Math.floor(Math.min(size * (room / taken), isSlim() ? 190 : size))}px`);
      headline.style.setProperty("--fit", fitted.get(shape));
    }
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
      if (left) setTimeout(tick, 1000);
      else root.querySelector("[data-live]").textContent = say("Waited long enough: measure again.");
    };
    tick();
  }

  // ---- cautions, dismissed for the session

  const seen = () => JSON.parse(sessionStorage.getItem("midlimit-cautions") || "[]");

  function dropCautions(root) {
    root.querySelectorAll("[data-caution]").forEach((caution) => {
      if (seen().includes(caution.dataset.caution)) caution.remove();
    });
  }

  function dismiss(caution) {
    sessionStorage.setItem("midlimit-cautions", JSON.stringify([...seen(), caution.dataset.caution]));
    caution.remove();
  }

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

  function showWaiting(root) {
    const strip = root.querySelector("[data-waiting]");
    if (!strip) return;
    const mine = midlimit.outbox.all().filter((entry) => entry.piece === root.dataset.piece);
    const held = mine.find((entry) => entry.state === "refused");
    const isTold = held || midlimit.outbox.trouble();
    strip.hidden = !mine.length || !(isTold || mine.length > 1);
    if (strip.hidden) return strip.replaceChildren();
    const words = document.createElement("p");
    const count = mine.length - (held ? 1 : 0);
    const why = held
      ? say("{entry} has to be settled first", { entry: shown(held) })
      : midlimit.outbox.trouble() || say("being sent");
    words.textContent = count ? say("{n} waiting: {why}", { n: count, why }) : why;
    const list = document.createElement("ol");
    for (const entry of mine.slice(0, SHOWN)) {
      const line = document.createElement("li");
      line.textContent = shown(entry);
      line.className = `is-${entry.state}`;
      list.append(line);
    }
    if (mine.length > SHOWN) {
      const more = document.createElement("li");
      more.textContent = say("and {n} more", { n: mine.length - SHOWN });
      list.append(more);
    }
    strip.replaceChildren(words, list);
    if (held) {
      const leave = document.createElement("button");
      leave.type = "button";
      leave.dataset.leave = held.id;
      leave.textContent = say("Leave out {entry}", { entry: shown(held) });
      strip.append(leave);
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

  return { fit, isSlim, countDown, dropCautions, dismiss, showWaiting, stayAwake, onTurn };
})();
