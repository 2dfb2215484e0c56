const said = document.getElementById("copied");
/** Select the text, so that it can be copied in any case, and copy it where the browser lets us. */
async function copy(source) {
  getSelection().selectAllChildren(source);
  try {
    await navigator.clipboard.writeText(source.textContent);
    return true;
  } catch {
    return document.execCommand("copy");
  }
}
document.querySelectorAll("[data-copy]").forEach((button) => {
  button.onclick = async () => {
    const done = await copy(document.getElementById(button.dataset.copy));
    button.textContent = done ? "Copied" : "Selected: Ctrl+C copies";
    said.textContent = done ? "Copied." : "Selected: Ctrl+C copies.";
    setTimeout(() => { button.textContent = "Copy"; said.textContent = ""; }, 2500);
  };
});

// Paper cannot be opened: what is folded is printed whole, and folded again afterwards.
const folded = () => [...document.querySelectorAll("details:not([open])")];
let opened = [];
addEventListener("beforeprint", () => { opened = folded(); for (const each of opened) each.open = true; });
addEventListener("afterprint", () => { for (const each of opened) each.open = false; });
