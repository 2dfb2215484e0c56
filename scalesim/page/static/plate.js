// The figure that opens a page in whole dots of the display: a dot of it is a whole number of the display's, and
// begins on one, whatever the display's scale. Without this script it is as large as the page says.
const plates = [...document.querySelectorAll(".plate")];
const narrow = matchMedia("(max-width: 700px)");

/** Return the display's dots for one of the figure: the largest number near the page's scale that fits. */
function timesOf(plate) {
  const scale = devicePixelRatio;
  if (narrow.matches) return Math.max(1, Math.round(scale));
  const cuts = [...plate.querySelectorAll(".cut")];
  const wide = cuts.reduce((sum, cut) => sum + cut.querySelector("img").width0, 0);
  const room = plate.clientWidth - 18 * (cuts.length - 1);
  const fits = Math.floor((room * scale) / wide);
  return Math.max(1, Math.min(fits, Math.ceil(scale)));
}

function fit() {
  for (const plate of plates) {
    plate.style.setProperty("--unit", timesOf(plate) / devicePixelRatio);
    for (const cut of plate.querySelectorAll(".cut")) {
      for (const layer of cut.children) layer.style.translate = "";
      const box = cut.querySelector("img").getBoundingClientRect();
      const [left, top] = [box.left + scrollX, box.top + scrollY].map((at) => {
        const dots = at * devicePixelRatio;
        return (Math.round(dots) - dots) / devicePixelRatio;
      });
      for (const layer of cut.children) layer.style.translate = `${left}px ${top}px`;
    }
  }
}

plates.flatMap((plate) => [...plate.querySelectorAll(".cut img")]).forEach((img) => {
  img.width0 = Number(img.getAttribute("width"));
});
if (plates.length) {
  fit();
  addEventListener("resize", fit);
  addEventListener("beforeprint", () => plates.forEach((plate) => plate.style.removeProperty("--unit")));
  addEventListener("afterprint", fit);
}
