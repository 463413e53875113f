// The link that whoever started the service was told has the token behind `#`, which is never sent: it is put into the
// form here and taken out of the address.
const token = decodeURIComponent(location.hash.slice(1));
if (token) {
  history.replaceState(null, "", location.pathname);
  document.getElementById("token").value = token;
  document.getElementById("enter").requestSubmit();
}
