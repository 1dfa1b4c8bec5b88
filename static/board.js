// The board of the lathe screen: number as large as it fits, wait counted down, cautions put away.
window.midlimit = window.midlimit || {};
midlimit.board = (() => {
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
      fitted.set(shape, `${Math.floor(Math.min(size * (room / taken), isSlim() ? 210 : size))}px`);
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

  return { fit, isSlim, countDown, dropCautions, dismiss };
})();
