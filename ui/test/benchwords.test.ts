import { beforeAll, describe, expect, it } from "vitest";
import { changeText, sizeText } from "../src/bench/words";
import { speak } from "../src/text/bench";

beforeAll(() => speak("en"));

describe("values of the frame bench", () => {
  const strike = { unit: "class", decimals: 2 };

  it("say the foot strike in words, with its share of the strides", () => {
    expect(changeText(0.89, strike, "rearfoot")).toBe("rearfoot, 89 % of strides");
    expect(sizeText(0.25, strike)).toBe("25 % of the strides");
  });

  it("have their unit in a sentence, however long it is", () => {
    expect(sizeText(1.5, { unit: "steps/min", decimals: 1 })).toBe("1.5\u202fsteps/min");
    expect(changeText(150.4, { unit: "steps/min", decimals: 1 })).toBe("150.4");
    expect(sizeText(4.25, { unit: "deg", decimals: 1 })).toMatch(/^4\.[23]°$/);
    expect(sizeText(0.0041, { unit: "", decimals: 4 })).toBe("0.0041 of the stride"); // the duty factor, the one measure without a unit
    expect(changeText(null, { unit: "deg", decimals: 1 })).toBe("not given");
  });
});
