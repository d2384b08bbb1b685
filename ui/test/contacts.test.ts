import { describe, expect, it } from "vitest";
import type { Contact, Side } from "../src/api";
import { firstShowing, momentFrame, onGround, placeAt, timeAt } from "../src/logic/contacts";

const contact = (side: Side, at: number, off = at + 0.25): Contact => ({ side, initial_contact_s: at, toe_off_s: off, edited: false });

// Strides of 0.7 s, right half a stride after left; 60 frames a second.
const contacts = [0.2, 0.9, 1.6, 2.3].flatMap((t) => [contact("left", t), contact("right", t + 0.35)]);
const clock = Array.from({ length: 200 }, (_, k) => k / 60);

describe("phase", () => {
  it("is 0 at contact, a half half-way, and begins anew at the next", () => {
    expect(placeAt(contacts, "left", 0.9)).toEqual({ stride: 1, phase: 0, inside: true });
    expect(placeAt(contacts, "left", 1.25)!.phase).toBeCloseTo(0.5);
    expect(placeAt(contacts, "right", 1.25)!.phase).toBeCloseTo(0);
    expect(placeAt(contacts, "left", 1.5999)!.phase).toBeCloseTo(1, 3);
  });
  it("goes on beyond the contacts, and says that it does", () => {
    const before = placeAt(contacts, "left", 0.1)!;
    expect(before.inside).toBe(false);
    expect(before.stride).toBe(-1);
    expect(before.phase).toBeCloseTo(1 - 0.1 / 0.7);
    const after = placeAt(contacts, "left", 2.3 + 0.7 * 1.25)!;
    expect(after).toMatchObject({ stride: 4, inside: false });
    expect(after.phase).toBeCloseTo(0.25);
  });
  it("does not trust a stride with a contact missed in it", () => {
    const gap = [0, 0.7, 1.4, 2.8, 3.5].map((t) => contact("left", t));
    expect(placeAt(gap, "left", 1.0)!.inside).toBe(true);
    expect(placeAt(gap, "left", 2.0)!.inside).toBe(false);
  });
  it("needs two contacts", () => {
    expect(placeAt([contact("left", 1)], "left", 1)).toBeNull();
  });
});

describe("the same moment in another view", () => {
  it("lies at the same phase, whatever the stride's length", () => {
    const slower = [5, 5.8, 6.6].map((t) => contact("left", t));
    for (let t = 0.2; t < 2.3; t += 0.013) {
      const here = placeAt(contacts, "left", t)!;
      const there = timeAt(slower, "left", here)!;
      expect(placeAt(slower, "left", there)!.phase).toBeCloseTo(here.phase, 9);
      expect(there).toBeGreaterThanOrEqual(5);
      expect(there).toBeLessThan(6.6);
    }
  });
  it("counts strides round, forward and backward", () => {
    expect(timeAt(contacts, "left", { stride: 3, phase: 0, inside: true })).toBeCloseTo(0.2);
    expect(timeAt(contacts, "left", { stride: -1, phase: 0, inside: false })).toBeCloseTo(1.6);
    expect(timeAt([contact("left", 1)], "left", { stride: 0, phase: 0, inside: true })).toBeNull();
  });
});

describe("contacts by frame", () => {
  it("stops at the first frame that shows the contact", () => {
    expect(firstShowing(clock, 0.2)).toBe(12);
    expect(firstShowing(clock, 0.201)).toBe(13);
    expect(firstShowing(clock, 12 / 60 + 1e-9)).toBe(12);
    expect(firstShowing(clock, 99)).toBe(199);
  });
  it("goes to the next and the previous of either foot", () => {
    expect(momentFrame(contacts, clock, 0, 1, "initial_contact_s")).toBe(12);
    expect(momentFrame(contacts, clock, 12, 1, "initial_contact_s")).toBe(33);
    expect(momentFrame(contacts, clock, 33, -1, "initial_contact_s")).toBe(12);
    expect(momentFrame(contacts, clock, 12, -1, "initial_contact_s")).toBeNull();
    expect(momentFrame(contacts, clock, 0, 1, "toe_off_s")).toBe(27);
  });
  it("visits every contact once on the way through", () => {
    const seen: number[] = [];
    for (let f: number | null = -1; (f = momentFrame(contacts, clock, f, 1, "initial_contact_s")) !== null; ) seen.push(f);
    expect(seen).toEqual([12, 33, 54, 75, 96, 117, 138, 159]);
  });
});

it("tells ground from flight, and does not guess outside", () => {
  expect(onGround(contacts, "left", 0.3)).toBe(true);
  expect(onGround(contacts, "left", 0.5)).toBe(false);
  expect(onGround(contacts, "left", 0.1)).toBeNull();
});
