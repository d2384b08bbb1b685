#compdef gaitwright
# Completion of gaitwright for zsh. In ~/.zshrc, after compinit:
#   source <(gaitwright completion zsh)
_gaitwright() {
  local word means
  local -a found
  while IFS=$'\t' read -r word means; do
    found+=("${word//:/\\:}:$means")
  done < <("${words[1]}" complete "--last=${words[CURRENT]}" -- "${(@)words[2,CURRENT-1]}" 2>/dev/null)
  if (( $#found )); then
    _describe gaitwright found
  else
    _files
  fi
}
compdef _gaitwright gaitwright
