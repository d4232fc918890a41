/** What is fetched when a return episode is first looked at: the first load of the coach's pages stays small. */
export { default as ReturnPage } from './ReturnPage.svelte';
export { default as ReportPage } from './ReportPage.svelte';
