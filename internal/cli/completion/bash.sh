# Completion of gaitwright for bash. In ~/.bashrc:
#   source <(gaitwright completion bash)
_gaitwright() {
  local word means
  COMPREPLY=()
  while IFS=$'\t' read -r word means; do
    COMPREPLY+=("$word")
  done < <("${COMP_WORDS[0]}" complete "--last=${COMP_WORDS[COMP_CWORD]}" -- "${COMP_WORDS[@]:1:COMP_CWORD-1}" 2>/dev/null)
}
complete -o bashdefault -o default -F _gaitwright gaitwright
