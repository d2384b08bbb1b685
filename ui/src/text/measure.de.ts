import { measureEn, type MeasureText } from "./measure.en"; export const measureDe: MeasureText = measureEn;
