// The frame bench is a part of its own; where it is not built in, a result opens
// on its own page instead.
import type { Component } from "svelte";
import { benchPath } from "../router.svelte";

export const benches = import.meta.glob<{ default: Component<any> }>("../bench/Bench.svelte");
export const loadBench = benches["../bench/Bench.svelte"];

/** Where the frames of a result's clip are looked at. */
export const framesPath = (visit: string, result: string, clip: number): string => (loadBench ? benchPath(visit, result, clip) : `/results/${encodeURIComponent(result)}#clip=${clip}`);
