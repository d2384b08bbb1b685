// Two people change the same record: what each changed is kept, and where both
// changed the same field to different things a person is asked.

type Plain = { [key: string]: unknown };

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
export function merge<T>(base: T, mine: T, theirs: T, keyOf: (item: unknown) => string | null = () => null): { value: T; clashes: Clash[] } {
  const clashes: Clash[] = [];
  return { value: join(base, mine, theirs, "", keyOf, clashes) as T, clashes };
}

function join(base: unknown, mine: unknown, theirs: unknown, path: string, keyOf: (item: unknown) => string | null, clashes: Clash[]): unknown {
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

function keyed(list: unknown, keyOf: (item: unknown) => string | null): Plain | null {
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

/** The value of a field. */
export const at = (record: unknown, path: string): unknown => path.split(".").reduce<unknown>((v, k) => (plain(v) ? v[k] : undefined), record);

/** Puts a value into a field. */
export function put(record: object, path: string, value: unknown): void {
  const keys = path.split(".");
  const last = keys.pop()!;
  const place = keys.reduce<Plain>((v, k) => (plain(v[k]) ? (v[k] as Plain) : (v[k] = {} as Plain)) as Plain, record as Plain);
  if (value === undefined) delete place[last];
  else place[last] = value;
}
