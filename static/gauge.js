// A gauge that types like a keyboard: digits in a burst, then Enter or Tab, whatever has the focus.
// A burst is told from a person by its speed; what the burst left in another field is put back.
window.midlimit = window.midlimit || {};
midlimit.gauge = (() => {
  const GAP_MS = 100; // between two keys of a gauge
  const PAUSE_MS = 1000;
  const NUMBER = /^[+-]?(\d+[.,]?\d*|[.,]\d+)$/;
  let burst = null;
  let typedAt = -Infinity; // when a digit was last typed where nothing can be typed

  const isText = (element) => element.matches("input[type=text], input[type=search], textarea");

  const isPressed = (element) => element.closest("button, a, summary, select, input, label") !== null;

  function listen(mainField, take) {
    document.addEventListener(
      "keydown",
      (event) => {
        const field = mainField();
        if (!field || event.ctrlKey || event.metaKey || event.altKey) return;
        if (event.key.length === 1) note(event, field);
        else if (event.key === "Enter" || event.key === "Tab") end(event, field, take);
      },
      true,
    );
  }

  function note(event, field) {
    const gap = burst ? event.timeStamp - burst.last : Infinity;
    if (gap > GAP_MS) {
      // digits shortly before may belong to this one: then nothing is taken out of the field
      const isTail = gap < PAUSE_MS && burst.text !== "";
      burst = { text: "", last: 0, before: new Map(), main: field.value, isTail };
      if (gap > PAUSE_MS && document.querySelector(".ask") && !isText(event.target)) field.value = "";
    }
    const at = event.target;
    burst.last = event.timeStamp;
    if (isText(at) && !burst.before.has(at)) burst.before.set(at, at.value);
    if (!/[0-9.,+-]/.test(event.key)) return;
    burst.text += event.key;
    if (isText(at)) return;
    event.preventDefault();
    typedAt = event.timeStamp;
    field.value += event.key;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }

  function end(event, field, take) {
    const done = burst;
    burst = null;
    if (!done || !done.text) return;
    const isFast = event.timeStamp - done.last <= GAP_MS * 2;
    const isGauge = isFast && !done.isTail && done.text.length >= 3 && NUMBER.test(done.text);
    if (isGauge) {
      event.preventDefault();
      event.stopPropagation();
      field.value = done.main;
      done.before.forEach((value, at) => (at.value = value));
      take(done.text);
    } else if (event.key === "Enter" && !isText(event.target) && field.value) {
      if (isPressed(event.target) && event.timeStamp - typedAt > PAUSE_MS) return;
      event.preventDefault();
      event.stopPropagation();
      field.form.requestSubmit();
    }
  }

  return { listen };
})();
