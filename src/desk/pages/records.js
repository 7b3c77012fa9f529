import { make } from './desk.js';
import { words } from './words.js';

export async function showAll(host) {
  host.append(make('h1', {}, words.desk.records));
}
export const showOne = showAll;
export const showEvening = showAll;
