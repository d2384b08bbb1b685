// Two people change the same record: what each changed is kept, and where both
// changed the same field to different things a person is asked.

type Plain = { [key: string]: unknown };
type KeyOf = (item: unknown) => string | null;

const plain = (v: unknown): v is Plain => typeof v === "object" && v !== null && !Array.isArray(v);

export function same(a: unknown, b: unknown): boolean {
  if (a === b) return true;
  if (Array.isArray(a) && Array.isArray(b)) return a.length === b.length && a.every((v, i) => same(v, b[i]));
  if (!plain(a) || !plain(b)) return (a ?? null) === (b ?? null);
  return [...new Set([...Object.keys(a), ...Object.keys(b)])].every((k) => same(a[k], b[k]));
}

export interface Clash {
  /** The field, such as "training.years". */
  path: string;
  mine: unknown;
  theirs: unknown;
}

/**
 * What stands when `mine` and `theirs` both began as `base`. In a clash mine
 * stands until it is settled. `keyOf` tells the items of a list apart; lists
 * whose items have no key are taken whole.
 */
export function merge<T>(base: T, mine: T, theirs: T, keyOf: KeyOf = () => null): { value: T; clashes: Clash[] } {
  const clashes: Clash[] = [];
  return { value: join(base, mine, theirs, "", keyOf, clashes) as T, clashes };
}

function join(base: unknown, mine: unknown, theirs: unknown, path: string, keyOf: KeyOf, clashes: Clash[]): unknown {
  if (same(mine, theirs) || same(theirs, base)) return mine;
  if (same(mine, base)) return theirs;
  if (plain(mine) && plain(theirs)) {
    const from = plain(base) ? base : {};
    const out: Plain = {};
    for (const key of new Set([...Object.keys(theirs), ...Object.keys(mine)])) {
      const v = join(from[key], mine[key], theirs[key], path ? `${path}.${key}` : key, keyOf, clashes);
      if (v !== undefined) out[key] = v;
    }
    return out;
  }
  const [a, b, c] = [base ?? [], mine, theirs].map((list) => keyed(list, keyOf));
  if (a && b && c) return Object.values(join(a, b, c, path, keyOf, clashes) as Plain);
  clashes.push({ path, mine, theirs });
  return mine;
}

function keyed(list: unknown, keyOf: KeyOf): Plain | null {
  if (!Array.isArray(list)) return null;
  const out: Plain = {};
  for (const item of list) {
    const key = keyOf(item);
    if (key === null) return null;
    out[key] = item;
  }
  return out;
}

/** The fields in which two records differ, as "training.years". */
export function differing(a: unknown, b: unknown, path = ""): string[] {
  if (same(a, b)) return [];
  if (!plain(a) || !plain(b)) return [path];
  return [...new Set([...Object.keys(a), ...Object.keys(b)])].flatMap((k) => differing(a[k], b[k], path ? `${path}.${k}` : k));
}

const step = (v: unknown, k: string, keyOf?: KeyOf): unknown => (Array.isArray(v) && keyOf ? v.find((item) => keyOf(item) === k) : plain(v) ? v[k] : undefined);

/** The value of a field; an item of a list is named by its key. */
export const at = (record: unknown, path: string, keyOf?: KeyOf): unknown => path.split(".").reduce<unknown>((v, k) => step(v, k, keyOf), record);

/** Puts a value into a field; an item of a list is named by its key. */
export function put(record: object, path: string, value: unknown, keyOf?: KeyOf): void {
  const keys = path.split(".");
  const last = keys.pop()!;
  const place = keys.reduce<object>((v, k) => {
    const next = step(v, k, keyOf);
    if (plain(next) || (Array.isArray(next) && keyOf)) return next as object;
    const fresh: Plain = {};
    if (Array.isArray(v)) v.push(fresh);
    else (v as Plain)[k] = fresh;
    return fresh;
  }, record);
  if (Array.isArray(place)) {
    const i = place.findIndex((item) => keyOf?.(item) === last);
    if (value === undefined) {
      if (i >= 0) place.splice(i, 1);
    } else if (i >= 0) place[i] = value;
    else place.push(value);
  } else if (value === undefined) delete (place as Plain)[last];
  else (place as Plain)[last] = value;
}
