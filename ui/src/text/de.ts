import { en, type Text } from "./en"; export const de: Text = en;
