import { filmEn, type FilmText } from "./film.en"; export const filmDe: FilmText = filmEn;
