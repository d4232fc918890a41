import { mount } from 'svelte';
import App from './App.svelte';
import { keepShell } from './offline/register.ts';
import './styles/tokens.css';
import './styles/base.css';
import './styles/print.css';

const target = document.getElementById('app');
if (target === null) throw new Error('index.html has no element with the id "app".');
mount(App, { target });
keepShell();
