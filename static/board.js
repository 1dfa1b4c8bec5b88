// The board of the lathe screen: number as large as it fits, wait counted down, cautions put away.
window.midlimit = window.midlimit || {};
midlimit.board = (() => {
  function fit(root) {
    const headline = root.querySelector(".headline-number");
    if (!headline) return;
    headline.style.removeProperty("--fit");
    const room = headline.clientWidth;
    const taken = headline.lastElementChild.getBoundingClientRect().right - headline.getBoundingClientRect().left;
    const size = parseFloat(getComputedStyle(headline).fontSize);
    const isSlim = matchMedia("(max-width: 760px)").matches;
    if (taken > room || isSlim) {
      headline.style.setProperty("--fit", `${Math.floor(Math.min(size * (room / taken), isSlim ? 210 : size))}px`);
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
      figure.textContent = left ? text : "Measure";
      if (left) setTimeout(tick, 1000);
      else root.querySelector("[data-live]").textContent = "Waited long enough: measure again.";
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

  return { fit, countDown, dropCautions, dismiss };
})();
