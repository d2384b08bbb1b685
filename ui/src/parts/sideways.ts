// Shows of a row that scrolls sideways at which end it goes on. What holds the row, and
// nothing else, gets the marks: data-before and data-after where something is hidden.
import "./sideways.css";

export function sideways(row: HTMLElement): () => void {
  const holder = row.parentElement!;
  holder.dataset.sideways = "";
  const look = () => {
    const at = Math.abs(row.scrollLeft);
    holder.toggleAttribute("data-before", at > 4);
    holder.toggleAttribute("data-after", row.scrollWidth - row.clientWidth - at > 4);
  };
  const sizes = new ResizeObserver(look);
  sizes.observe(row);
  for (const one of row.children) sizes.observe(one);
  row.addEventListener("scroll", look, { passive: true });
  look();
  return () => {
    sizes.disconnect();
    row.removeEventListener("scroll", look);
  };
}
