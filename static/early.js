// Runs before the first paint: tells the styles that scripts work, and gives the scripts their words.
document.documentElement.classList.add("js");
window.midlimit = (() => {
  let words;

  // The message in the language of the page, its {places} filled in.
  function say(message, values = {}) {
    words = words || JSON.parse(document.body.dataset.words || "{}");
    return (words[message] || message).replace(/\{(\w+)\}/g, (place, name) => values[name] ?? place);
  }

  return { say };
})();
