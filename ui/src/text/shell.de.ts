import { shellEn, type ShellText } from "./shell.en"; export const shellDe: ShellText = shellEn;
