import { make } from './desk.js';
import { words } from './words.js';

export async function show(host) {
  host.append(make('h1', {}, words.desk.night));
}
