// How the analyst likes the page, kept in this browser.
const key = "gaitwright.look";

interface Look {
  skeleton: boolean;
  raw: boolean;
  angles: boolean;
  link: boolean;
  singleKeys: boolean;
}

const usual: Look = { skeleton: true, raw: false, angles: false, link: true, singleKeys: true };

function kept(): Look {
  try {
    const found = JSON.parse(localStorage.getItem(key) ?? "{}") as Partial<Record<keyof Look, unknown>>;
    const out = { ...usual };
    for (const name of Object.keys(usual) as (keyof Look)[]) if (typeof found[name] === "boolean") out[name] = found[name];
    return out;
  } catch {
    return { ...usual };
  }
}

export const look = $state<Look>(kept());

$effect.root(() => {
  $effect(() => {
    const now = JSON.stringify(look);
    try {
      localStorage.setItem(key, now);
    } catch {
      // A browser that keeps nothing still works for the day.
    }
  });
});
