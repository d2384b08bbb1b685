import { intakeEn, type IntakeText } from "./intake.en"; export const intakeDe: IntakeText = intakeEn;
