# Completion of gaitwright for PowerShell. In the profile:
#   gaitwright completion powershell | Out-String | Invoke-Expression
Register-ArgumentCompleter -Native -CommandName gaitwright -ScriptBlock {
    param($last, $line, $position)
    $words = @($line.CommandElements | Where-Object { $_.Extent.EndOffset -lt $position } | ForEach-Object { $_.Extent.Text })
    $before = @($words | Select-Object -Skip 1)
    & $words[0] complete "--last=$last" -- @before 2>$null | ForEach-Object {
        $word, $means = $_ -split "`t", 2
        if (-not $means) { $means = $word }
        [System.Management.Automation.CompletionResult]::new($word, $word, 'ParameterValue', $means)
    }
}
