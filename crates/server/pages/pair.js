// Lets this device in by the code that stands behind the # of the address; no browser sends that part to any server.
const WORDS = {
  en: { title: 'Let this phone in', name: 'Your name', code: 'Code from the office', go: 'Come in', lost: 'No answer from the office. Try again.' },
  es: { title: 'Dejar entrar este teléfono', name: 'Su nombre', code: 'Código de la oficina', go: 'Entrar', lost: 'La oficina no responde. Inténtelo de nuevo.' },
  fr: { title: 'Laisser entrer ce téléphone', name: 'Votre nom', code: 'Code du bureau', go: 'Entrer', lost: 'Le bureau ne répond pas. Réessayez.' },
};
const language = navigator.language.slice(0, 2);
const words = WORDS[language] ?? WORDS.en;
document.documentElement.lang = language in WORDS ? language : 'en';
for (const at of document.querySelectorAll('[data-say]')) at.textContent = words[at.dataset.say];

const form = document.getElementById('pair');
const code = document.getElementById('code');
const name = document.getElementById('name');
const why = document.getElementById('why');
code.value = decodeURIComponent(location.hash.slice(1));
// The code is in the field now; it need not stay in the list of pages that were open.
history.replaceState(null, '', '/pair');
(code.value ? name : code).focus();

form.addEventListener('submit', async (event) => {
  event.preventDefault();
  why.textContent = '';
  try {
    const answer = await fetch('/api/v1/pair', {
      method: 'POST',
      headers: { 'Content-Type': 'application/json' },
      body: JSON.stringify({ code: code.value, name: name.value }),
    });
    const said = await answer.json();
    if (answer.ok) location.replace(said.role === 'crew' || said.role === 'honey-house' ? '/#/phone' : '/#/desk');
    else why.textContent = `${said.title}. ${said.detail}`;
  } catch {
    why.textContent = words.lost;
  }
});
